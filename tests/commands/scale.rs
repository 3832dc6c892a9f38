//! Many designs: the same bytes whatever the threads and the order in which they are named.

use super::program::{STAGE, coldcheck_in, folder};

#[test]
fn threads_and_the_order_of_naming_change_no_byte() {
    let variants: Vec<(String, String)> = (0..24)
        .map(|n| {
            let text = match n % 3 {
                0 => STAGE.replace("power=\"2W\"", "power=\"0.25W\""),
                1 => STAGE.replace("\"47k\"", "47k"),
                _ => STAGE.to_owned(),
            };
            (format!("amps/{}/{n}.kdl", n % 5), text)
        })
        .collect();
    let files: Vec<(&str, &str)> = variants.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let folder = folder(&files);
    let mut names: Vec<&str> = files.iter().map(|(name, _)| *name).collect();
    for format in ["text", "lines", "json", "sarif", "markdown"] {
        let run = |threads: &str, paths: &[&str]| {
            coldcheck_in(folder.path(), &[&["inspect", "--as", format, "--jobs", threads], paths].concat())
        };
        let whole = run("1", &["amps"]);
        assert_eq!(whole.0, 2);
        assert!(whole.1.len() > 1000, "{format}");
        assert_eq!(run("4", &["amps"]), whole, "{format}");
        names.rotate_left(7);
        names.reverse();
        assert_eq!(run("3", &names), whole, "{format}");
    }
}

#[test]
fn no_bar_is_drawn_where_there_is_no_terminal() {
    let files: Vec<(String, String)> = (0..20).map(|n| (format!("{n}.kdl"), STAGE.to_owned())).collect();
    let files: Vec<(&str, &str)> = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let folder = folder(&files);
    let (_, _, stderr) = coldcheck_in(folder.path(), &["inspect", "."]);
    assert_eq!(stderr, "");
}
