//! The forms of KDL 2.0 as statements: strings, numbers, comments, slashdashes, line continuations, line ends.

use coldcheck::source::{FileId, Scalar, Statement, parse_text};

fn shown(statement: &Statement) -> String {
    let scalar = |scalar: &Scalar| match scalar {
        Scalar::Text(text) => format!("{text:?}"),
        Scalar::Number(number) => number.to_string(),
        Scalar::Flag(flag) => format!("#{flag}"),
        Scalar::Null => "#null".to_owned(),
    };
    let mut out = statement.name.value.clone();
    for argument in &statement.arguments {
        out += &format!(" {}", scalar(&argument.value));
    }
    for property in &statement.properties {
        out += &format!(" {}={}", property.name.value, scalar(&property.value.value));
    }
    if !statement.children.is_empty() {
        let children: Vec<String> = statement.children.iter().map(shown).collect();
        out += &format!(" {{ {} }}", children.join("; "));
    }
    out
}

fn read(text: &str) -> Vec<String> {
    let (statements, complaints) = parse_text(FileId(0), text);
    assert!(complaints.is_empty(), "{complaints:?}");
    statements.iter().map(shown).collect()
}

#[test]
fn strings_of_every_form() {
    assert_eq!(
        read("a bare \"quoted \\\"x\\\" { }\" #\"raw \" \\ }\"# ##\"two \"# \"## \"a\\    \n   b\""),
        [r##"a "bare" "quoted \"x\" { }" "raw \" \\ }" "two \"# " "ab""##]
    );
    assert_eq!(
        read("a \"\"\"\n    two {\n      lines\n    \"\"\" b=#\"\"\"\n  x \"\" }\n  \"\"\"#\nc"),
        [r#"a "two {\n  lines" b="x \"\" }""#, "c"]
    );
}

#[test]
fn numbers_and_keywords() {
    assert_eq!(
        read("a 1 -2.5 1e3 0x1F 0b101 0o17 1_000 #true #false #null +7"),
        ["a 1 -2.5 1000 31 5 15 1000 #true #false #null 7"]
    );
}

#[test]
fn comments_and_what_is_commented_out() {
    assert_eq!(read("a 1 // not } this {\n/* nor /* nested */ { */ b /* here */ 2\n"), ["a 1", "b 2"]);
    assert_eq!(
        read("/-a 1 {\n b\n}\nc /-1 2 /-k=3 l=4 /-{ d; } { e; /-f { g; }; } /-{ h; }\n/- i\nj"),
        ["c 2 l=4 { e }", "j"]
    );
    assert_eq!(read("/-\n  a 1\nb /-\n  2 3\n"), ["b 3"]);
    assert_eq!(read("a /-\"one two\" /-k=\"three four\" 5"), ["a 5"]);
}

#[test]
fn lines_are_joined_and_ended() {
    assert_eq!(
        read("a 1 \\\n  2 \\ // why\n  3\nb \\ /* x */ \n 4; c { d; e 5 }; f\r\ng\rh\u{2028}i"),
        ["a 1 2 3", "b 4", "c { d; e 5 }", "f", "g", "h", "i"]
    );
    assert_eq!(read("\u{feff}a 1\r\n"), ["a 1"]);
    assert_eq!(read("a k = 1 l= 2 m =3"), ["a k=1 l=2 m=3"]);
    assert_eq!(read(""), Vec::<String>::new());
    assert_eq!(read("\n;;\n"), Vec::<String>::new());
}

#[test]
fn spans_cover_what_was_written_and_no_blank_behind_it() {
    let text = "\u{feff}first 1\r\n  résistance \"R 1\"  key = \"wért\"   { child 2 ; }   // end\n  last 🙂  \n";
    let (statements, complaints) = parse_text(FileId(0), text);
    assert!(complaints.is_empty());
    let slice = |span: coldcheck::source::Span| &text[span.start..span.end];
    assert_eq!(slice(statements[0].span), "first 1");
    let second = &statements[1];
    assert_eq!(slice(second.span), "résistance \"R 1\"  key = \"wért\"   { child 2 ; }");
    assert_eq!(slice(second.name.span), "résistance");
    assert_eq!(slice(second.arguments[0].span), "\"R 1\"");
    assert_eq!(slice(second.properties[0].name.span), "key");
    assert_eq!(slice(second.properties[0].value.span), "\"wért\"");
    assert_eq!(slice(second.children[0].span), "child 2");
    assert_eq!(slice(statements[2].span), "last 🙂");
}

#[test]
fn one_broken_statement_silences_no_other() {
    let (statements, complaints) = parse_text(FileId(0), "a 1\nb \"x\nc 2 {\n  d 100k\n  e \"\n  f 3\n}\n)\ng 4\n");
    let names: Vec<&str> = statements.iter().map(|s| s.name.value.as_str()).collect();
    assert_eq!(complaints.len(), 4, "{complaints:?}");
    assert!(names.starts_with(&["a", "b", "c"]) && names.ends_with(&["g"]), "{names:?}");
    // A value that only lacks its quotes is read all the same.
    assert_eq!(statements[2].children.iter().map(shown).collect::<Vec<_>>(), ["d \"100k\"", "e", "f 3"]);
    assert!(statements[2].children[0].broken);
}
