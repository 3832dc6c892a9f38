//! Whatever is in the file, the answer comes: no panic, no stack overflow, no time without end.

use proptest::prelude::*;

use coldcheck::design::read_workshop;
use coldcheck::source::{FileId, Sources, parse_text};

use crate::bench::{read, told};
use crate::example::EXAMPLE;

/// Reads a text in every way there is, and looks at every span of what comes back.
fn survives(text: &str) {
    let (sources, reading) = read(text);
    for complaint in &reading.complaints {
        assert!(!complaint.message.is_empty());
        let spans = complaint.span.into_iter().chain(complaint.others.iter().map(|(span, _)| *span));
        for span in spans {
            assert!(span.start <= span.end, "{complaint:?}");
            let file = sources.get(span.file).expect("a file of this run");
            assert!(file.text.get(span.start..span.end).is_some(), "{complaint:?}");
        }
    }
    if let Some(design) = &reading.design {
        for part in &design.parts {
            assert!(!sources.text(part.name_span).is_empty());
        }
    }
    assert!(reading.design.is_some() || reading.fragment.is_some() || !reading.complaints.is_empty());
}

#[test]
fn the_example_cut_off_at_every_byte_is_answered() {
    for end in (0..EXAMPLE.len()).filter(|end| EXAMPLE.is_char_boundary(*end)) {
        survives(&EXAMPLE[..end]);
    }
}

#[test]
fn the_example_without_each_token_is_answered() {
    let mut start = 0;
    for piece in EXAMPLE.split_inclusive(|c: char| c.is_whitespace() || "{}=\";".contains(c)) {
        let end = start + piece.len();
        survives(&format!("{}{}", &EXAMPLE[..start], &EXAMPLE[end..]));
        let separator = end - 1;
        survives(&format!("{}{}", &EXAMPLE[..separator], &EXAMPLE[end..]));
        start = end;
    }
}

#[test]
fn a_design_of_five_thousand_parts_is_read_whole() {
    let mut text = String::from("design \"Large\"\n");
    for index in 0..5_000 {
        text += &format!("resistor R{index} \"1k\" from=n{index} to=n{}\n", index + 1);
    }
    let (sources, reading) = read(&text);
    assert_eq!(told(&sources, &reading.complaints), "");
    assert_eq!(reading.design.unwrap().parts.len(), 5_000);
}

#[test]
fn five_thousand_wrong_references_are_all_told() {
    let mut text = String::from("design \"Large\"\n");
    for index in 0..5_000 {
        text += &format!("resistor R{index} \"1k\" from=X{index}.plate to=n\n");
    }
    let (_, reading) = read(&text);
    assert_eq!(reading.complaints.len(), 5_000);
}

#[test]
fn ten_thousand_blocks_deep_is_one_complaint() {
    let deep = format!("{}{}", "a {".repeat(10_000), "}".repeat(10_000));
    let (statements, complaints) = parse_text(FileId(0), &deep);
    assert_eq!(statements.len(), 1);
    assert_eq!(complaints.len(), 1);
    survives(&deep);
    survives(&"a {".repeat(10_000));
    survives(&"a {\n".repeat(10_000));
    survives_indented();
}

fn survives_indented() {
    let stairs: String = (0..1_000).map(|depth| format!("{}a {{\n", " ".repeat(depth))).collect();
    survives(&stairs);
}

#[test]
fn nested_blocks_that_are_commented_out_cost_nothing() {
    let nested = format!("design \"x\"\n{}{}\nresistor R1 \"1k\" from=a to=b\n", "a /-{ ".repeat(40), "}".repeat(40));
    let (_, reading) = read(&nested);
    assert_eq!(reading.design.unwrap().parts.len(), 1);
    survives(&"/-{".repeat(40));
    survives(&"a /-{".repeat(5_000));
    survives(&format!("a {}", "/-".repeat(5_000)));
}

#[test]
fn marks_without_end_are_answered() {
    for mark in [
        "\"",
        "\"\"\"\n",
        "#\"",
        "#\"\"\"\n",
        "##\"\"\"\n#\"\"\"\n",
        "/*",
        "/* ",
        "/*\n",
        "\\",
        "\\\n",
        "\\ /* ",
        "(",
        "a=",
        "=",
        "{",
        "}",
        "}{",
        ";",
        "/-",
        "a\"b",
        "\u{feff}",
        "\r",
        "[",
        "\\\"\"\"\n",
        "a \"x\n",
        "#",
        "##",
        "a (b)",
        "é",
        "/**/",
        "1 ",
        "-",
        "\\x ",
        "] ",
        "]b ",
        "(a) ",
        "(a)b=1 ",
        "\"\\q\" ",
        "\u{1}",
        "\u{3000}",
        "/-b= ",
        ".1",
        "]b;",
    ] {
        survives(&mark.repeat(1_500));
        // In one head and in one string: the parser below would spend its stack on these.
        survives(&format!("design \"x\"\na {}", mark.repeat(5_000)));
        survives(&format!("design \"x\"\na \"{}\"", mark.repeat(5_000)));
    }
    let nested = format!("a {}{} b", "/*".repeat(50_000), "*/".repeat(50_000));
    survives(&nested);
}

#[test]
fn stages_that_multiply_stop_at_a_limit() {
    let mut text = String::from("design \"x\"\nstage s0 { port p; resistor R \"1k\" from=p to=ground; }\n");
    for level in 1..=15 {
        text += &format!("stage s{level} {{ port p\n");
        for copy in 0..8 {
            text += &format!("  fit s{} c{copy} p=p\n", level - 1);
        }
        text += "}\n";
    }
    text += "fit s15 top p=a\n";
    let (sources, reading) = read(&text);
    let said = told(&sources, &reading.complaints);
    assert!(said.contains("more than 100,000 parts"), "{said}");
}

#[test]
fn a_long_chain_of_ports_is_answered() {
    let mut text = String::from("design \"x\"\nstage s { port p q; resistor R \"1k\" from=p to=q; }\n");
    for index in 0..3_000 {
        text += &format!("fit s c{index} p=c{}.p q=ground\n", index + 1);
    }
    text += "fit s c3000 p=a q=ground\n";
    survives(&text);
}

fn mutated() -> impl Strategy<Value = String> {
    let pieces = prop::sample::select(vec![
        "\"",
        "{",
        "}",
        "=",
        ";",
        "\n",
        "/-",
        "/*",
        "*/",
        "//",
        "#\"",
        "\"#",
        "\"\"\"",
        "\\",
        ".",
        "\u{feff}",
        "é",
        "🙂",
        "1e400",
        "100k",
        "-",
        "(",
        ")",
        " ",
        "stage ",
        "fit ",
        "port ",
        "wire ",
        "V1.",
        "left.",
        "include \"x\"",
        "unused V1b\n",
        "\r\n",
        "\t",
        "\u{2028}",
    ]);
    let edits = prop::collection::vec((any::<prop::sample::Index>(), pieces, 0usize..12), 1..8);
    edits.prop_map(|edits| {
        let mut chars: Vec<char> = EXAMPLE.chars().collect();
        for (place, piece, removed) in edits {
            let at = place.index(chars.len());
            let end = (at + removed).min(chars.len());
            chars.splice(at..end, piece.chars());
        }
        chars.into_iter().collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_text_is_answered(text in "\\PC{0,200}") {
        survives(&text);
    }

    #[test]
    fn random_marks_are_answered(text in "[a-c{}\"#/*\\\\=; \n\r-]{0,120}") {
        survives(&text);
        let mut sources = Sources::default();
        let file = sources.add("coldcheck.kdl", text);
        let (_, complaints) = read_workshop(&sources, file);
        prop_assert!(complaints.iter().all(|complaint| complaint.span.is_some()));
    }

    #[test]
    fn the_example_with_random_edits_is_answered(text in mutated()) {
        survives(&text);
    }
}
