//! Every file in `broken/` with the whole of what is said of it. Read a snapshot before accepting it.

use std::path::Path;

use crate::bench::{Folder, read_among, told};

#[test]
fn what_is_wrong_is_said_where_it_is_and_how_to_mend_it() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/language/broken");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert!(files.len() >= 30);
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        let name = file.file_stem().unwrap().to_string_lossy().into_owned();
        let (sources, mut reading) = read_among(&format!("{name}.kdl"), &text, &Folder::default());
        reading.complaints.extend(reading.fragment);
        let said = told(&sources, &reading.complaints);
        assert_ne!(said, "", "{name} gives no complaint");
        insta::assert_snapshot!(name, said);
    }
}
