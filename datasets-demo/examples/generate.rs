#![allow(clippy::print_stderr)] // a small program
//! Writes the demo's input: `cargo run --release -p formkin-datasets-demo --example generate -- FOLDER [PEOPLE] [VERTICES] [SEQUENCES] [FRAMES] [FRAMES A SECOND]`.

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let folder = arguments.next().ok_or("name a folder")?;
    let mut params = formkin_datasets_demo::DemoParams { force: true, ..Default::default() };
    if let Some(people) = arguments.next() {
        params.participants = people.parse()?;
    }
    if let Some(vertices) = arguments.next() {
        params.vertices = vertices.parse()?;
    }
    if let Some(sequences) = arguments.next() {
        params.sequences = sequences.parse()?;
    }
    if let Some(frames) = arguments.next() {
        params.frames = frames.parse()?;
    }
    if let Some(rate) = arguments.next() {
        params.frames_per_second = rate.parse()?;
    }
    params.repeats = params.repeats.min(params.participants);
    let started = std::time::Instant::now();
    let report = formkin_datasets_demo::generate(folder.as_ref(), &params, &|_, _| ())?;
    eprintln!("{report:#?}\nin {:.2?}", started.elapsed());
    Ok(())
}
