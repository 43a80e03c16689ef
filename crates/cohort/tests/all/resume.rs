//! An import that was stopped goes on where it was, and never shows half a cohort.

#![allow(clippy::unwrap_used)] // helpers of tests

use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::common::{scan, take_in, text};
use formkin_cohort::{Cohort, ImportParams, import};

fn content(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all = Vec::new();
    for sub in ["", "positions"] {
        for entry in fs::read_dir(folder.join(sub)).unwrap() {
            let path = entry.unwrap().path();
            if path.is_file() {
                all.push((text(path.strip_prefix(folder).unwrap()), fs::read(&path).unwrap()));
            }
        }
    }
    all.sort();
    all
}

/// Stops an import after some items by a panic in the progress callback: what is on the disk is what a killed program leaves.
fn stopped_after(scans: &Path, into: &Path, items: usize) {
    let stop = std::panic::catch_unwind(|| {
        import(&[text(scans)], into, &ImportParams { resume: true, ..ImportParams::default() }, &|done, _| {
            assert!(done < items, "stopped on purpose");
        })
    });
    assert!(stop.is_err());
}

#[test]
fn a_stopped_import_goes_on_and_gives_the_same_cohort() {
    let f = tempfile::tempdir().unwrap();
    let scans = f.path().join("s");
    for i in 0..150 {
        scan(&scans, &format!("a{i:03}x.ply"), 1500.0 + f64::from(i), 1.0);
    }
    fs::write(scans.join("a010y.ply"), "no").unwrap();
    let whole = f.path().join("whole.cohort");
    take_in(&scans, &whole, &ImportParams::default()).unwrap();

    let into = f.path().join("a.cohort");
    stopped_after(&scans, &into, 128);
    assert!(!into.exists() && f.path().join("a.cohort.part/journal.jsonl").is_file());
    // the end of the journal as a crash may leave it
    let journal = f.path().join("a.cohort.part/journal.jsonl");
    let mut torn = fs::read(&journal).unwrap();
    torn.extend_from_slice(b"{\"target\":\"stills.npy\",\"sta");
    fs::write(&journal, torn).unwrap();
    let resume = ImportParams { resume: true, ..ImportParams::default() };
    let (report, cohort) = take_in(&scans, &into, &resume).unwrap();
    assert_eq!((report.resumed_files, report.info.items, report.info.quarantined), (128, 150, 1));
    assert_eq!(content(&into), content(&whole));
    assert_eq!(cohort.source().shapes(), 150);
    assert!(!f.path().join("a.cohort.part").exists());
}

#[test]
fn what_changed_in_between_is_read_again() {
    let f = tempfile::tempdir().unwrap();
    let scans = f.path().join("s");
    for i in 0..150 {
        scan(&scans, &format!("a{i:03}x.ply"), 1500.0 + f64::from(i), 1.0);
    }
    let into = f.path().join("a.cohort");
    stopped_after(&scans, &into, 128);
    std::thread::sleep(std::time::Duration::from_millis(20));
    scan(&scans, "a100x.ply", 1900.0, 1.0);
    let resume = ImportParams { resume: true, ..ImportParams::default() };
    let (report, cohort) = take_in(&scans, &into, &resume).unwrap();
    assert_eq!(report.resumed_files, 64);
    let at = cohort.items().iter().position(|i| i.item == "a100x").unwrap();
    assert!((cohort.source().read_shape(at).unwrap()[385][2] - 1900.0).abs() < 1e-3);

    // data that is not there any more, another template, or no wish to resume: all is read
    for damage in 0..3 {
        let into = f.path().join(format!("b{damage}.cohort"));
        stopped_after(&scans, &into, 128);
        let part = f.path().join(format!("b{damage}.cohort.part"));
        match damage {
            0 => fs::write(part.join("positions/stills.npy"), b"").unwrap(),
            1 => fs::write(part.join("journal.jsonl"), b"{}\n").unwrap(),
            _ => {}
        }
        let params = ImportParams { resume: damage < 2, ..ImportParams::default() };
        let (report, cohort) = take_in(&scans, &into, &params).unwrap();
        assert_eq!((report.resumed_files, cohort.items().len()), (0, 150));
    }
}

#[test]
fn a_forced_import_that_is_stopped_leaves_the_old_cohort() {
    let f = tempfile::tempdir().unwrap();
    let scans = f.path().join("s");
    for i in 0..3 {
        scan(&scans, &format!("a{i:03}x.ply"), 1500.0 + f64::from(i), 1.0);
    }
    let into = f.path().join("a.cohort");
    take_in(&scans, &into, &ImportParams::default()).unwrap();
    let before = content(&into);
    scan(&scans, "b.ply", 1800.0, 1.0);
    let calls = AtomicUsize::new(0);
    let stop = std::panic::catch_unwind(|| {
        import(&[text(&scans)], &into, &ImportParams { force: true, ..ImportParams::default() }, &|_, _| {
            assert!(calls.fetch_add(1, Ordering::Relaxed) < 1, "stopped on purpose");
        })
    });
    assert!(stop.is_err());
    assert_eq!(content(&into), before);
    // stopped between the two renames: the old cohort is put back
    fs::rename(&into, f.path().join("a.cohort.replaced")).unwrap();
    let again = import(&[text(&scans)], &into, &ImportParams::default(), &|_, _| {});
    assert!(again.is_err());
    assert_eq!(content(&into), before);
    let force = ImportParams { force: true, ..ImportParams::default() };
    let (report, _) = take_in(&scans, &into, &force).unwrap();
    assert_eq!(report.info.items, 4);
    assert_eq!(Cohort::open(&into).unwrap().items().len(), 4);
    assert_eq!(fs::read_dir(f.path()).unwrap().count(), 2);
}
