//! Only the command line reads files, asks the clock or the environment, and prints.

use std::path::{Path, PathBuf};

const OUTSIDE: [&str; 12] = [
    "std::fs",
    "fs::read",
    "std::env",
    "std::io",
    "std::process",
    "std::net",
    "println!",
    "eprint",
    "SystemTime",
    "Instant::now",
    "Timestamp::now",
    "Zoned::now",
];

fn rust_files(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, files);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
}

#[test]
fn no_room_below_the_command_line_touches_the_outside() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    rust_files(&source, &mut files);
    let mut found = Vec::new();
    for file in files {
        let place = file.strip_prefix(&source).unwrap();
        if place.starts_with("cli") || place == Path::new("main.rs") {
            continue;
        }
        let text = std::fs::read_to_string(&file).unwrap();
        let code = text.split("#[cfg(test)]").next().unwrap();
        for word in OUTSIDE.into_iter().filter(|word| code.contains(word)) {
            found.push(format!("{} has {word}", place.display()));
        }
    }
    assert_eq!(found, Vec::<String>::new());
}
