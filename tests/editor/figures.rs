//! Figures beside the text, hover, completion, outline, colours, layout.

use serde_json::{Value, json};

use crate::client::{Client, example, place, program, whole};
use crate::talk::STAGE;

fn opened(name: &str) -> (Client, std::path::PathBuf, String) {
    let mut client = Client::start(&["utf-32"]);
    let path = example(name);
    let text = std::fs::read_to_string(&path).unwrap();
    client.open(&path, &text);
    client.diagnostics(&path, 1);
    (client, path, text)
}

/// The text with its hints where they stand.
fn hinted(text: &str, hints: &Value) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut hints: Vec<&Value> = hints.as_array().unwrap().iter().collect();
    hints.sort_by_key(|hint| std::cmp::Reverse(hint["position"]["character"].as_u64()));
    for hint in hints {
        let line = &mut lines[hint["position"]["line"].as_u64().unwrap() as usize];
        let character = hint["position"]["character"].as_u64().unwrap() as usize;
        let at = line.char_indices().nth(character).map_or(line.len(), |(index, _)| index);
        line.insert_str(at, &format!("[{}]", hint["label"].as_str().unwrap()));
    }
    lines.join("\n")
}

/// Three digits and a unit, as the hints have it.
fn shown(value: f64, unit: &str) -> String {
    let (value, unit) = if value < 1.0 { (value * 1e3, format!("m{unit}")) } else { (value, unit.to_owned()) };
    let decimals = (2 - value.log10().floor() as i32).max(0) as usize;
    let text = format!("{value:.decimals$}");
    let trimmed = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{trimmed} {unit}")
}

#[test]
fn figures_are_those_of_the_facts_and_stand_where_they_belong() {
    let (mut client, path, text) = opened("alder-street/tuner-preamp.kdl");
    let output = program().arg("facts").arg(&path).args(["--as", "json"]).output().unwrap();
    let facts: Value = serde_json::from_slice(&output.stdout).unwrap();
    let fact = |subject: &str, name: &str| {
        let all = facts["facts"].as_array().unwrap();
        all.iter().find(|one| one["subject"] == subject && one["fact"] == name).unwrap().clone()
    };
    let at_rest = |net: &str| shown(fact(net, "voltage")["by_state"]["running"].as_f64().unwrap(), "V");
    let worst = |part: &str, name: &str| fact(part, name)["value"].as_f64().unwrap();
    let hints = client.about("inlayHint", &path, None, whole()).unwrap();
    let page = hinted(&text, &hints);
    for net in ["bplus", "followers", "quiet"] {
        let hint = format!("{net}[{}]", at_rest(net));
        assert!(page.contains(&hint), "{hint} in {page}");
        let place = page.find(&hint).unwrap();
        assert!(!page[..place].contains(&format!("={net} ")), "{net} is first named elsewhere");
    }
    let plate = format!("to=first.plate[{}]", at_rest("V1a.plate"));
    assert!(page.contains(&plate), "{plate} in {page}");
    let heat = format!("[{} of 1 W]", shown(worst("R20", "dissipation"), "W"));
    assert!(page.lines().any(|line| line.starts_with("resistor R20 ") && line.ends_with(&heat)), "{heat} in {page}");
    let time = format!("[{} to 50 V]", shown(worst("C23", "discharge-time"), "s"));
    assert!(page.lines().any(|line| line.starts_with("capacitor C23 ") && line.ends_with(&time)), "{time} in {page}");
    assert!(!page.contains("ground["), "what is 0 V by name needs no hint");
    let tooltip = hints[0]["tooltip"].as_str().unwrap();
    assert!(tooltip.contains("running: ") && tooltip.contains("Caution: "), "{tooltip}");
    client.leave();
}

#[test]
fn a_lead_of_the_transformer_is_never_shown_by_its_mean() {
    let (mut client, path, text) = opened("faulty/reading-room-line-stage-c.kdl");
    let hints = client.about("inlayHint", &path, None, whole()).unwrap();
    let shown = hinted(&text, &hints);
    assert!(shown.contains("start=ht1[alternating, 698 V peak to peak]"), "{shown}");
    client.leave();
}

#[test]
fn hover_tells_a_parts_facts_in_each_state_with_limits_and_sources() {
    let (mut client, path, text) = opened("alder-street/tuner-preamp.kdl");
    let mut hover = |words: &str, nth: usize| {
        let at = place(&text, words, nth);
        let answer = client.about("hover", &path, Some(at), json!({})).unwrap();
        answer["contents"]["value"].as_str().unwrap().to_owned()
    };
    let tube = hover("V2 \"12AU7\"", 0);
    for words in [
        "**V2a** (tube)",
        "plate-dissipation-limit",
        "running",
        "high-mains",
        "socket-empty V1",
        "- source: ",
        "Caution: voltages above 50 V",
    ] {
        assert!(tube.contains(words), "{words} in {tube}");
    }
    let net = hover("bplus", 0);
    assert!(net.contains("| voltage |") && net.contains("switch-on"), "{net}");
    let section = hover("V1a", 0);
    assert!(section.contains("**V1a**") && !section.contains("**V1b**"), "{section}");
    client.leave();
}

#[test]
fn hover_on_a_rule_shows_its_lesson() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("stage.kdl");
    let text = format!("{STAGE}waive \"resistor/rating-missing\" part=R1 because=\"bench\"\n");
    let mut client = Client::start(&["utf-32"]);
    client.open(&path, &text);
    let at = place(&text, "rating-missing", 0);
    let lesson = client.about("hover", &path, Some(at), json!({})).unwrap();
    assert!(lesson["contents"]["value"].as_str().unwrap().starts_with("**resistor/rating-missing** (refinement)"));
    let workshop = folder.path().join("coldcheck.kdl");
    let text = "adjust \"capacitor/working-voltage\" film=0.7\n";
    client.open(&workshop, text);
    let at = place(text, "working", 0);
    let lesson = client.about("hover", &workshop, Some(at), json!({})).unwrap();
    assert!(lesson["contents"]["value"].as_str().unwrap().contains("limit `film`"));
    client.leave();
}

/// The suggestions at `|`, by label, with the line as it is after the first that has this label.
fn suggested(text: &str, file: &str) -> Vec<(String, String)> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(file);
    let mut client = Client::start(&["utf-32"]);
    let (line, character) = place(text, "|", 0);
    // The names are those of the last text that was inspected.
    client.open(&path, &text.replace('|', ""));
    let found = client.about("completion", &path, Some((line, character)), json!({})).unwrap();
    client.leave();
    let written = text.lines().nth(line).unwrap().replace('|', "");
    found["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|item| {
            let edit = &item["textEdit"];
            let at = |end: &str| edit["range"][end]["character"].as_u64().unwrap() as usize;
            let mut line = written.clone();
            line.replace_range(at("start")..at("end"), edit["newText"].as_str().unwrap());
            (item["label"].as_str().unwrap().to_owned(), line)
        })
        .collect()
}

#[test]
fn completion_offers_what_may_stand_there() {
    for (line, label, written) in [
        ("resi|", "resistor", "resistor"),
        ("resistor |", "R5", "resistor R5"),
        ("resistor R5 \"1k\" |", "power", "resistor R5 \"1k\" power="),
        ("resistor R5 \"1k\" power=|", "1W", "resistor R5 \"1k\" power=\"1W\""),
        ("resistor R5 \"1k\" power=\"|\"", "2W", "resistor R5 \"1k\" power=\"2W\""),
        ("resistor R5 \"1k\" kind=wi|", "wirewound", "resistor R5 \"1k\" kind=wirewound"),
        ("capacitor C5 \"1uF\" voltage=|", "400V", "capacitor C5 \"1uF\" voltage=\"400V\""),
        ("tube V5 \"12A|\"", "12AX7", "tube V5 \"12AX7\""),
        ("tube V5 \"12AX7\" { heater |", "12.6V", "tube V5 \"12AX7\" { heater \"12.6V\""),
        ("tube V5 \"12AX7\" { heater \"6.3V\" fr|", "from", "tube V5 \"12AX7\" { heater \"6.3V\" from="),
        ("diode D5 |", "1N4007", "diode D5 \"1N4007\""),
        ("led D5 |", "red", "led D5 red"),
        ("waive |", "grid/leak-present", "waive \"grid/leak-present\""),
        ("waive \"grid/leak-present\" part=|", "R3", "waive \"grid/leak-present\" part=R3"),
        ("unused |", "V1b", "unused V1b"),
    ] {
        let found = suggested(&format!("{STAGE}{line}"), "stage.kdl");
        let one = found.iter().find(|(known, _)| known == label);
        assert_eq!(one.map(|(_, line)| line.as_str()), Some(written), "{line}: {found:?}");
    }
}

#[test]
fn completion_knows_nets_terminals_stages_and_ports() {
    let labels =
        |text: &str| -> Vec<String> { suggested(text, "stage.kdl").into_iter().map(|(label, _)| label).collect() };
    let found = labels(&STAGE.replace("from=bplus to=V1a.plate", "from=| to=V1a.plate"));
    for label in ["out", "h1", "ground", "V1a.plate", "V1a.cathode", "C1.from"] {
        assert!(found.contains(&label.to_owned()), "{label} in {found:?}");
    }
    let staged = "design \"S\"\ntube V1 \"12AX7\"\nstage amp {\n    port in tube\n    resistor R1 \"1k\" from=inner to=|in\n}\nfit amp left tube=V1a in=a\n";
    let found = labels(staged);
    for label in ["in", "inner", "tube.plate", "ground"] {
        assert!(found.contains(&label.to_owned()), "{label} in {found:?}");
    }
    assert!(!found.contains(&"a".to_owned()), "the nets outside are not seen inside");
    assert_eq!(labels("design \"S\"\nstage amp {\n    port in out\n}\nfit |\n"), ["amp"]);
    assert_eq!(labels("design \"S\"\nstage amp {\n    port in out\n}\nfit amp left in=a |\n"), ["out"]);
    assert!(labels("design \"S\" // resi|\n").is_empty());
}

#[test]
fn completion_in_the_workshop_file() {
    let labels =
        |text: &str| -> Vec<String> { suggested(text, "coldcheck.kdl").into_iter().map(|(label, _)| label).collect() };
    assert!(labels("|\n").contains(&"adjust".to_owned()));
    assert!(labels("gate |\n").contains(&"malfunction".to_owned()));
    assert!(labels("adjust |\n").contains(&"capacitor/working-voltage".to_owned()));
    assert!(labels("adjust \"capacitor/working-voltage\" |\n").contains(&"film".to_owned()));
    assert!(labels("stock {\n    |\n}\n").contains(&"resistor-power".to_owned()));
}

#[test]
fn the_outline_and_the_colours_of_a_text() {
    let (mut client, path, text) = opened("alder-street/tuner-preamp.kdl");
    let outline = client.about("documentSymbol", &path, None, json!({})).unwrap();
    let names: Vec<&str> = outline.as_array().unwrap().iter().map(|item| item["name"].as_str().unwrap()).collect();
    assert!(names.contains(&"channel") && names.contains(&"V1") && names.contains(&"left"), "{names:?}");
    let stage = outline.as_array().unwrap().iter().find(|item| item["name"] == "channel").unwrap();
    assert!(stage["children"].as_array().unwrap().iter().any(|item| item["name"] == "R6"));
    let legend = client.capabilities["capabilities"]["semanticTokensProvider"]["legend"]["tokenTypes"].clone();
    let tokens = client.about("semanticTokens/full", &path, None, json!({})).unwrap();
    let data: Vec<u64> = tokens["data"].as_array().unwrap().iter().map(|number| number.as_u64().unwrap()).collect();
    let lines: Vec<&str> = text.lines().collect();
    let (mut line, mut start) = (0, 0);
    let mut words = Vec::new();
    for token in data.chunks(5) {
        start = if token[0] == 0 { start + token[1] as usize } else { token[1] as usize };
        line += token[0] as usize;
        let word: String = lines[line].chars().skip(start).take(token[2] as usize).collect();
        words.push((word, legend[token[3] as usize].as_str().unwrap().to_owned()));
    }
    for (word, kind) in [
        ("resistor", "keyword"),
        ("R20", "class"),
        ("bplus", "variable"),
        ("ground", "keyword"),
        ("metal-film", "enumMember"),
        ("\"1W\"", "number"),
        ("in", "parameter"),
        ("power", "property"),
    ] {
        assert!(words.contains(&(word.to_owned(), kind.to_owned())), "{word} as {kind}");
    }
    client.leave();
}

#[test]
fn a_text_is_laid_out_and_a_broken_one_is_not_touched() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("stage.kdl");
    let mut client = Client::start(&["utf-32"]);
    let options = json!({ "options": { "tabSize": 4, "insertSpaces": true } });
    client.open(&path, "design   \"S\" // why\n  resistor R1   \"1k\" from=a   to=b\n");
    let edits = client.about("formatting", &path, None, options.clone()).unwrap();
    let laid_out = edits[0]["newText"].as_str().unwrap();
    assert!(laid_out.contains("// why") && laid_out.contains("\nresistor R1 \"1k\" from=a to=b"), "{laid_out}");
    client.change(&path, 2, laid_out);
    assert_eq!(client.about("formatting", &path, None, options.clone()).unwrap(), json!([]));
    client.change(&path, 3, "design \"S\"\nresistor R1 100k\n");
    let refused = client.about("formatting", &path, None, options).unwrap_err();
    assert!(refused["message"].as_str().unwrap().starts_with("not touched: "));
    client.leave();
}
