//! Cycles, curves over them and displacement in a body frame -> the content of files. Meshes and points share them.

use formkin_motion::Cycles;
use formkin_motion::changes::DimensionChange;
use formkin_motion::cycles::cycle::SetAside;
use formkin_motion::soft::tissue::Tissue;

use crate::job::deep::Deep;
use crate::job::formats::Made;
use crate::job::signals::csv_cell;

/// The files of cycles, curves over them, and soft tissue.
#[must_use]
pub fn curve_files(deep: &Deep) -> Vec<Made> {
    let mut files = Vec::new();
    let mut add = |name: &str, what, text: String| {
        files.push(Made { name: name.to_owned(), what, bytes: text.into_bytes() });
    };
    if let Some(cycles) = &deep.cycles {
        add("events.csv", "Cycles with their begin and end, and why some are set aside", events_csv(cycles));
    }
    if deep.courses.iter().any(|c| c.band.is_some()) {
        add("cycles.csv", "Dimensions over the cycle: mean and SD at 0 to 100 %", cycles_csv(deep));
        add(
            "cycle-curves.csv",
            "Dimensions over the cycle, one column a cycle, 0 to 100 %",
            single_csv(deep),
        );
    }
    if !deep.tissue.is_empty() {
        add("tissue.csv", "Soft tissue in the body frame, one row a cycle", tissue_csv(&deep.tissue));
        let path = displacement_csv(&deep.tissue);
        add("tissue-course.csv", "Soft tissue in the body frame through time", path);
    }
    files
}

pub fn some(v: Option<f64>, digits: usize) -> String {
    v.map_or_else(String::new, |v| format!("{v:.digits$}"))
}

/// Dimensions over captures, cycles and people, the largest range first.
#[must_use]
pub fn changes_csv(changes: &[DimensionChange]) -> String {
    let mut csv = String::from(
        "dimension,unit,people,captures,cycles,reference,range,range_sd_people,range_sd_cycles,change_min_percent,change_max_percent,\
         phase_of_min_percent,phase_of_max_percent,noise_floor,above_noise\n",
    );
    for c in changes {
        csv.push_str(&format!(
            "{},{},{},{},{},{},{:.2},{},{},{},{},{},{},{},{}\n",
            csv_cell(&c.dimension),
            csv_cell(&c.unit),
            c.people,
            c.captures,
            c.cycles,
            some(c.reference, 2),
            c.range,
            some(c.range_sd_people, 2),
            some(c.range_sd_cycles, 2),
            some(c.change_min_percent, 2),
            some(c.change_max_percent, 2),
            some(c.phase_of_min_percent, 1),
            some(c.phase_of_max_percent, 1),
            some(c.noise_floor, 3),
            c.above_noise.map_or_else(String::new, |b| b.to_string()),
        ));
    }
    csv
}

/// Why a cycle does not count, in words.
#[must_use]
pub fn set_aside_words(why: &SetAside) -> String {
    match why {
        SetAside::Gap => "frames are missing in it".to_owned(),
        SetAside::Short { frames, needed } => {
            format!("it holds {frames} frames, and a cycle needs {needed}")
        }
        SetAside::Length { seconds, median_s, allowed_s } => format!(
            "it takes {seconds:.3} s, the median is {median_s:.3} s and {allowed_s:.3} s off are allowed"
        ),
        SetAside::Curve { distance, allowed } => format!(
            "its curve is {distance:.2} (root mean square) from the median curve and {allowed:.2} is allowed"
        ),
    }
}

fn events_csv(cycles: &Cycles) -> String {
    let mut csv = String::from("cycle,start_s,end_s,set_aside\n");
    for (i, c) in cycles.cycles.iter().enumerate() {
        let why = c.set_aside.as_ref().map_or_else(String::new, set_aside_words);
        csv.push_str(&format!("{},{:.5},{:.5},{}\n", i + 1, c.start_s, c.end_s, csv_cell(&why)));
    }
    csv
}

fn cycles_csv(deep: &Deep) -> String {
    let bands: Vec<_> = deep.courses.iter().filter_map(|c| c.band.as_ref().map(|b| (c, b))).collect();
    let mut csv = String::from("percent");
    for (c, _) in &bands {
        for what in ["mean", "sd"] {
            csv.push(',');
            csv.push_str(&csv_cell(&format!("{}_{what}_{}", c.dimension, c.unit)));
        }
    }
    csv.push('\n');
    for p in 0..=100 {
        csv.push_str(&p.to_string());
        for (_, b) in &bands {
            csv.push_str(&format!(",{:.3},{:.3}", b.mean[p], b.sd[p]));
        }
        csv.push('\n');
    }
    csv
}

fn single_csv(deep: &Deep) -> String {
    let bands: Vec<_> = deep.courses.iter().filter_map(|c| c.band.as_ref().map(|b| (c, b))).collect();
    let mut csv = String::from("percent");
    for (c, b) in &bands {
        for cycle in &b.cycles {
            csv.push(',');
            csv.push_str(&csv_cell(&format!("{}_cycle_{}_{}", c.dimension, cycle + 1, c.unit)));
        }
    }
    csv.push('\n');
    for p in 0..=100 {
        csv.push_str(&p.to_string());
        for curve in bands.iter().flat_map(|(_, b)| &b.curves) {
            csv.push_str(&format!(",{:.4}", curve[p]));
        }
        csv.push('\n');
    }
    csv
}

fn tissue_csv(tissue: &[Tissue]) -> String {
    let mut csv = String::from(
        "region,cycle,start_s,vertical_mm,lateral_mm,fore_aft_mm,resultant_mm,path_mm,speed_mm_s,acceleration_mm_s2,normal_mm,tangential_mm\n",
    );
    for t in tissue {
        for (i, c) in t.cycles.iter().enumerate() {
            csv.push_str(&format!(
                "{},{},{:.4},{:.3},{:.3},{:.3},{:.3},{:.3},{:.1},{:.0},{},{}\n",
                csv_cell(&t.name),
                i + 1,
                c.start_s,
                c.vertical_mm,
                c.lateral_mm,
                c.fore_aft_mm,
                c.resultant_mm,
                c.path_mm,
                c.speed_mm_s,
                c.acceleration_mm_s2,
                some(c.normal_mm, 3),
                some(c.tangential_mm, 3)
            ));
        }
    }
    csv
}

fn displacement_csv(tissue: &[Tissue]) -> String {
    let mut csv = String::from("region,time_s,lateral_mm,fore_aft_mm,vertical_mm\n");
    for t in tissue {
        for (time, d) in t.times_s.iter().zip(&t.displacement_mm) {
            let name = csv_cell(&t.name);
            csv.push_str(&format!("{name},{time:.4},{:.3},{:.3},{:.3}\n", d[0], d[1], d[2]));
        }
    }
    csv
}
