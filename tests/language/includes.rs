//! Includes: relative to the file that names them, never outside the project, never in a circle, each once.

use coldcheck::source::FileId;

use crate::bench::{Folder, read_among, told};

const MAIN: &str = "design \"Phono\"\ninclude \"../shared/supply.kdl\"\nresistor R1 \"1k\" from=bplus to=a\n";
const SUPPLY: &str = "bench-supply B1 \"250V\" plus=bplus minus=ground\n";

#[test]
fn an_included_file_is_relative_to_the_one_that_names_it() {
    let folder = Folder::with(
        "club",
        &[("club/shared/supply.kdl", "include \"parts/bench.kdl\"\n"), ("club/shared/parts/bench.kdl", SUPPLY)],
    );
    let (sources, reading) = read_among("club/phono/phono.kdl", MAIN, &folder);
    assert_eq!(told(&sources, &reading.complaints), "");
    let design = reading.design.unwrap();
    let names: Vec<&str> = design.parts.iter().map(|part| part.name.as_str()).collect();
    assert_eq!(names, ["B1", "R1"]);
    let supply = design.part(design.find("B1").unwrap());
    assert_eq!(supply.name_span.file, FileId(2));
    assert_eq!(sources.text(supply.name_span), "B1");
}

#[test]
fn a_complaint_in_an_included_file_is_told_in_that_file() {
    let folder = Folder::with("", &[("shared/supply.kdl", "bench-supply B1 250V plus=bplus\n")]);
    let (sources, reading) = read_among("phono/phono.kdl", MAIN, &folder);
    insta::assert_snapshot!(told(&sources, &reading.complaints), @r#"
    shared/supply.kdl:1:17 `250V`
      `250V` cannot stand without quotes
      ^ put the value in quotes
      ? write `"250V"`
    "#);
}

#[test]
fn nothing_outside_the_project_is_included() {
    let text = "design \"x\"
include \"../../secret.kdl\"
include \"/etc/passwd\"
include \"C:/x.kdl\"
include \"..\\\\x.kdl\"
include \"a/../../../x.kdl\"
include \"\"
include 5
include \"missing.kdl\"
include \"a.kdl\" \"b.kdl\"
resistor R1 \"1k\" from=a to=b
";
    let folder = Folder::with("club", &[("club/phono/a.kdl", "")]);
    let (sources, reading) = read_among("club/phono/phono.kdl", text, &folder);
    insta::assert_snapshot!(told(&sources, &reading.complaints));
    assert_eq!(reading.design.unwrap().parts.len(), 1);
}

#[test]
fn a_project_without_a_folder_name_has_an_outside_too() {
    let folder = Folder::with("", &[("../x.kdl", SUPPLY)]);
    let (sources, reading) = read_among("a.kdl", "design \"x\"\ninclude \"../x.kdl\"\n", &folder);
    let said = told(&sources, &reading.complaints);
    assert!(said.contains("lies outside the project folder"), "{said}");
}

#[test]
fn a_circle_of_includes_is_refused_with_its_way() {
    let folder = Folder::with(
        "",
        &[("a.kdl", "include \"b.kdl\"\n"), ("b.kdl", "include \"./sub/../a.kdl\"\nresistor R1 \"1k\" from=x to=y\n")],
    );
    let text = "design \"x\"\ninclude \"a.kdl\"\ninclude \"main.kdl\"\n";
    let (sources, reading) = read_among("main.kdl", text, &folder);
    insta::assert_snapshot!(told(&sources, &reading.complaints), @r#"
    main.kdl:3:10 `main.kdl`
      `main.kdl` would include itself
      ^ this closes the circle
    b.kdl:1:10 `./sub/../a.kdl`
      `./sub/../a.kdl` would include itself
      ^ this closes the circle
      + a.kdl:1:10 `b.kdl` by way of this
    "#);
    assert_eq!(reading.design.unwrap().parts.len(), 1);
}

#[test]
fn a_file_is_included_once() {
    let folder = Folder::with("", &[("supply.kdl", SUPPLY)]);
    let text = "design \"x\"\ninclude \"supply.kdl\"\ninclude \"./supply.kdl\"\n";
    let (sources, reading) = read_among("main.kdl", text, &folder);
    assert_eq!(told(&sources, &reading.complaints), "");
    assert_eq!(reading.design.unwrap().parts.len(), 1);
}

#[test]
fn a_stage_may_be_kept_in_a_file() {
    let folder = Folder::with("", &[("inner.kdl", "port in out\nresistor R1 \"1k\" from=in to=out\n")]);
    let text = "design \"x\"\nstage s { include \"inner.kdl\"; }\nfit s left in=a out=b\n";
    let (sources, reading) = read_among("main.kdl", text, &folder);
    assert_eq!(told(&sources, &reading.complaints), "");
    assert_eq!(reading.design.unwrap().parts[0].name, "left.R1");

    let text = "design \"x\"\nstage s { include \"inner.kdl\"; }\nstage t { include \"inner.kdl\"; }\nfit s left in=a out=b\nfit t right\n";
    let (sources, reading) = read_among("main.kdl", text, &folder);
    let said = told(&sources, &reading.complaints);
    assert!(said.contains("is included already"), "{said}");
}

#[test]
fn an_included_design_is_a_second_design() {
    let folder = Folder::with("", &[("other.kdl", "design \"Other\"\n")]);
    let (sources, reading) = read_among("main.kdl", "design \"x\"\ninclude \"other.kdl\"\n", &folder);
    insta::assert_snapshot!(told(&sources, &reading.complaints), @r#"
    other.kdl:1:1 `design`
      one file describes one design
      ^ a second `design` statement
      + main.kdl:1:1 `design` the first is here
    "#);
}
