//! From a keystroke to its diagnostics, on a design of 60 parts and one of 600: `cargo bench --bench editor`.
//!
//! Prints medians and 99th percentiles beside the parse and the whole inspection of the same text, as ratios; nothing
//! here passes or fails by the clock.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use coldcheck::catalogue::Catalogue;
use coldcheck::design::{ProjectFiles, read_design};
use coldcheck::editor::{Bench, Surroundings, serve};
use coldcheck::inspection::inspect;
use coldcheck::rules::{RuleBook, Shelves};
use coldcheck::source::{FileId, Sources, parse_text};
use jiff::civil::{Date, date};
use lsp_server::{Connection, Message, Notification, Request, RequestId};
use serde_json::{Value, json};

const ADDRESS: &str = "file:///bench/rack.kdl";

/// A project of one text: nothing lies on a disk.
struct Nothing;

impl Surroundings for Nothing {
    fn read(&self, _: &Path, _: &Path) -> Result<String, String> {
        Err("there is no such file".to_owned())
    }

    fn bench(&self, _: &Path) -> Bench {
        Bench {
            root: PathBuf::from("/bench"),
            workshop: None,
            rules: RuleBook::built_in().clone(),
            catalogue: Catalogue::built_in().clone(),
            shelves: Shelves::default(),
            sources: Sources::default(),
            complaints: Vec::new(),
        }
    }

    fn designs(&self, _: &Path) -> Vec<PathBuf> {
        Vec::new()
    }

    fn today(&self) -> Date {
        date(2026, 1, 1)
    }
}

impl ProjectFiles for Nothing {
    fn root(&self) -> &Path {
        Path::new("/bench")
    }

    fn read(&self, _: &Path) -> Result<String, String> {
        Err("there is no such file".to_owned())
    }
}

/// A supply, and line stages on it: ten parts, and ten more for each stage.
fn rack(stages: usize) -> String {
    let mut text = include_str!("rack.kdl").to_owned();
    for number in 0..stages {
        text.push_str(&format!(
            "tube V{number} \"12AU7\" {{ heater \"6.3V\" from=h1 to=h2; unused b; }}
fit line s{number} in=in{number} out=out{number} supply=bplus tube=V{number}a
input IN{number} hot=in{number} cold=ground source=\"600\" level=\"0.5V\"
output OUT{number} hot=out{number} cold=ground load=\"47k\" cable=\"1m\"
"
        ));
    }
    text
}

type Outcome<T> = Result<T, Box<dyn Error>>;

fn main() -> Outcome<()> {
    println!(
        "{:>6} {:>12} {:>12} {:>12} {:>12} {:>12} {:>14}",
        "parts", "parse", "inspection", "median", "99 %", "99 % / parse", "99 % / inspect"
    );
    for (stages, keystrokes) in [(5, 100), (59, 30)] {
        let text = rack(stages);
        let whole = share(timed(5, || drop(inspected(&text))), 0.5);
        let parse = share(timed(50, || drop(parse_text(FileId(0), &text))), 0.5);
        let typed = keystroke_times(&text, keystrokes)?;
        let (middle, slowest) = (share(typed.clone(), 0.5), share(typed, 0.99));
        let ratio = |of: Duration| slowest.as_secs_f64() / of.as_secs_f64();
        let parts = 10 * (stages + 1);
        println!(
            "{parts:>6} {parse:>12.2?} {whole:>12.2?} {middle:>12.2?} {slowest:>12.2?} {:>12.1} {:>14.2}",
            ratio(parse),
            ratio(whole)
        );
    }
    Ok(())
}

fn timed(times: usize, mut work: impl FnMut()) -> Vec<Duration> {
    let once = |_| {
        let start = Instant::now();
        work();
        start.elapsed()
    };
    (0..times).map(once).collect()
}

/// The time that this share of all stays within.
fn share(mut times: Vec<Duration>, share: f64) -> Duration {
    times.sort();
    let index = (times.len() as f64 * share).ceil() as usize;
    times.get(index.saturating_sub(1)).copied().unwrap_or_default()
}

fn inspected(text: &str) -> usize {
    let bench = Nothing.bench(Path::new(""));
    let mut sources = Sources::default();
    let file = sources.add("/bench/rack.kdl", text);
    let reading = read_design(&mut sources, file, &Nothing, &bench.catalogue, None);
    inspect(Path::new("/bench/rack.kdl"), reading, bench.grounds(Nothing.today())).report.findings.len()
}

/// Types a value digit by digit in the middle of a text, and times each keystroke until its diagnostics are there.
fn keystroke_times(text: &str, keystrokes: usize) -> Outcome<Vec<Duration>> {
    let (server, client) = Connection::memory();
    let thread = std::thread::spawn(move || serve(&server, &Nothing));
    let send = |message: Message| client.sender.send(message).map_err(|error| error.to_string());
    let tell = |method: &str, parameters: Value| send(Notification::new(method.to_owned(), parameters).into());
    let published = |version: usize| {
        let told = client.receiver.iter().any(|message| {
            matches!(message, Message::Notification(told) if told.params.get("version") == Some(&json!(version)))
        });
        if told { Ok(()) } else { Err("the server has gone") }
    };
    send(Request::new(RequestId::from(1), "initialize".to_owned(), json!({ "capabilities": {} })).into())?;
    client.receiver.recv()?;
    tell("initialized", json!({}))?;
    let document = json!({ "uri": ADDRESS, "languageId": "kdl", "version": 0, "text": text });
    tell("textDocument/didOpen", json!({ "textDocument": document }))?;
    published(0)?;
    let (before, after) = text.split_once("resistor R3 \"47k\"").ok_or("the rack has no R3")?;
    let mut times = Vec::new();
    for (version, value) in (1..=keystrokes).zip(["4", "47", "47k", "4", "43", "43k"].into_iter().cycle()) {
        let typed = format!("{before}resistor R3 \"{value}\"{after}");
        let change =
            json!({ "textDocument": { "uri": ADDRESS, "version": version }, "contentChanges": [{ "text": typed }] });
        let start = Instant::now();
        tell("textDocument/didChange", change)?;
        published(version)?;
        times.push(start.elapsed());
    }
    send(Request::new(RequestId::from(2), "shutdown".to_owned(), Value::Null).into())?;
    tell("exit", Value::Null)?;
    match thread.join() {
        Ok(outcome) => outcome?,
        Err(_) => return Err("the server has died".into()),
    }
    Ok(times)
}
