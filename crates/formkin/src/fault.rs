//! Faults of the program itself: told as such, and to a program as one object like any other error.

use std::io::Write;
use std::panic::{self, AssertUnwindSafe, PanicHookInfo};
use std::sync::Mutex;

use serde_json::json;

use crate::output::{self, Exit, Output};

/// The first fault, by whichever thread: those that follow come from it.
static FIRST: Mutex<Option<String>> = Mutex::new(None);

/// Has every fault told on standard error, and the first one kept.
pub(crate) fn watch() {
    panic::set_hook(Box::new(note));
}

fn note(info: &PanicHookInfo<'_>) {
    let place = info.location().map(|l| format!("{}:{}", l.file(), l.line())).unwrap_or_default();
    let told = output::internal_fault(&place, &text(info.payload()));
    if let Ok(mut first) = FIRST.lock() {
        first.get_or_insert(told);
    }
}

/// Does the work of a command. Whatever comes of it, with `--json` one object goes to `out`.
pub(crate) fn guarded(
    output: &Output,
    out: &mut impl Write,
    work: impl FnOnce() -> anyhow::Result<Exit>,
) -> Exit {
    match panic::catch_unwind(AssertUnwindSafe(work)) {
        Ok(Ok(exit)) => exit,
        Ok(Err(error)) => {
            output.error(&error);
            Exit::Wrong
        }
        Err(payload) => {
            if output.json() {
                let kept = FIRST.lock().ok().and_then(|mut first| first.take());
                let error = kept.unwrap_or_else(|| format!("an internal fault: {}", text(&*payload)));
                let _ = writeln!(out, "{}", json!({ "error": error, "kind": "internal" }));
            }
            Exit::Fault
        }
    }
}

fn text(payload: &(dyn std::any::Any + Send)) -> String {
    payload
        .downcast_ref::<&str>()
        .map(|s| (*s).to_owned())
        .or_else(|| payload.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "no message".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_is_one_object_and_no_success() {
        let before = panic::take_hook();
        watch();
        let mut out = Vec::new();
        // on another thread first, as in parallel work: the first fault is the one that is told
        let exit = guarded(&Output::new(true, true), &mut out, || {
            let hit = std::thread::spawn(|| panic!("a vertex {} too many", 7)).join();
            hit.map_err(|_| ()).map_or_else(|()| panic!("the thread is gone"), |()| Ok(Exit::Done))
        });
        let mut silent = Vec::new();
        let quiet = guarded(&Output::new(false, true), &mut silent, || panic!("again"));
        panic::set_hook(before);
        assert_eq!((exit, exit as u8, quiet), (Exit::Fault, 3, Exit::Fault));
        let told: serde_json::Value = serde_json::from_slice(&out).unwrap();
        assert_eq!(told["kind"], "internal");
        let error = told["error"].as_str().unwrap();
        assert!(error.contains("a vertex 7 too many") && error.contains("fault.rs"), "{error}");
        assert!(silent.is_empty());
    }
}
