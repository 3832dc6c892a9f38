//! Facts of whole designs.

use std::path::Path;

use coldcheck::catalogue::Catalogue;
use coldcheck::circuit::Circuit;
use coldcheck::design::{ProjectFiles, read_design, read_workshop};
use coldcheck::facts::{Entry, FactTable, Value, facts_of};
use coldcheck::source::Sources;

struct Disk;
impl ProjectFiles for Disk {
    fn root(&self) -> &Path {
        Path::new("")
    }
    fn read(&self, path: &Path) -> Result<String, String> {
        std::fs::read_to_string(path).map_err(|e| e.to_string())
    }
}

fn facts(path: &str) -> FactTable {
    let mut sources = Sources::default();
    let w = sources.add("coldcheck.kdl", "mains \"230V\" \"50Hz\" tolerance=\"10%\"");
    let (workshop, _) = read_workshop(&sources, w);
    let file = sources.add(Path::new(path), std::fs::read_to_string(path).unwrap());
    let reading = read_design(&mut sources, file, &Disk, Catalogue::built_in(), Some(&workshop));
    assert!(reading.complaints.is_empty(), "{:#?}", reading.complaints);
    let design = reading.design.unwrap();
    let circuit = Circuit::of(&design);
    facts_of(&design, &circuit, Catalogue::built_in())
}

#[test]
fn print() {
    let text = std::env::var("DESIGN").unwrap();
    let start = std::time::Instant::now();
    let table = facts(&text);
    eprintln!("took {:?}", start.elapsed());
    for u in &table.unsolved {
        eprintln!("UNSOLVED {u:?}");
    }
    for (subject, name, entry) in table.iter() {
        let s = table.subject(subject).unwrap();
        match entry {
            Entry::Known(f) => {
                let w = f.worst_sample().unwrap();
                let by: Vec<String> = f
                    .samples
                    .iter()
                    .filter(|x| x.lineup == 0)
                    .map(|x| {
                        format!(
                            "{}={}",
                            x.state.map_or("-", |s| s.name()),
                            match &x.value {
                                Value::Quantity(v) => format!("{v:.5}"),
                                o => format!("{o:?}"),
                            }
                        )
                    })
                    .collect();
                eprintln!(
                    "{:9} {:22} {:24} {:?} {:?}  {}",
                    s.kind.word(),
                    s.name,
                    name,
                    w.value,
                    w.state,
                    if by.len() > 1 { by.join(" ") } else { String::new() }
                );
            }
            Entry::Failed { reason } => eprintln!("{:9} {:22} {:24} FAILED {reason}", s.kind.word(), s.name, name),
        }
    }
}
