//! A client that speaks the protocol by hand, so that the tests rest on nothing of ours.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use serde_json::{Value, json};

pub struct Client {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
    next: i64,
    /// What was last published of each address.
    pub published: BTreeMap<String, Value>,
    /// The answer to `initialize`.
    pub capabilities: Value,
}

pub fn uri(path: &Path) -> String {
    format!("file://{}", path.display())
}

pub fn example(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name)
}

pub fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_coldcheck"))
}

impl Client {
    /// Starts a server and greets it; it counts characters in the first of these ways that it knows.
    pub fn start(encodings: &[&str]) -> Self {
        let mut child = program().arg("editor").stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        let input = child.stdin.take().unwrap();
        let output = BufReader::new(child.stdout.take().unwrap());
        let mut client = Self { child, input, output, next: 0, published: BTreeMap::new(), capabilities: Value::Null };
        client.capabilities = client
            .ask(
                "initialize",
                json!({
                    "processId": null, "rootUri": null,
                    "capabilities": {
                        "general": { "positionEncodings": encodings },
                        "textDocument": { "publishDiagnostics": { "relatedInformation": true } },
                        "workspace": { "workspaceEdit": { "documentChanges": false } },
                    },
                }),
            )
            .unwrap();
        client.tell("initialized", json!({}));
        client
    }

    fn send(&mut self, message: &Value) {
        let body = message.to_string();
        write!(self.input, "Content-Length: {}\r\n\r\n{body}", body.len()).unwrap();
        self.input.flush().unwrap();
    }

    fn receive(&mut self) -> Value {
        let mut length = 0;
        loop {
            let mut line = String::new();
            assert!(self.output.read_line(&mut line).unwrap() > 0, "the server has gone");
            match line.trim().split_once(':') {
                Some(("Content-Length", value)) => length = value.trim().parse().unwrap(),
                Some(_) => {}
                None => break,
            }
        }
        let mut body = vec![0; length];
        self.output.read_exact(&mut body).unwrap();
        let message: Value = serde_json::from_slice(&body).unwrap();
        if message["method"] == "textDocument/publishDiagnostics" {
            let address = message["params"]["uri"].as_str().unwrap().to_owned();
            self.published.insert(address, message["params"].clone());
        }
        message
    }

    pub fn tell(&mut self, method: &str, parameters: Value) {
        self.send(&json!({ "jsonrpc": "2.0", "method": method, "params": parameters }));
    }

    /// Asks and gives the request's number, without waiting.
    pub fn begin(&mut self, method: &str, parameters: Value) -> i64 {
        self.next += 1;
        self.send(&json!({ "jsonrpc": "2.0", "id": self.next, "method": method, "params": parameters }));
        self.next
    }

    /// Waits for the answer to a request.
    pub fn answer(&mut self, id: i64) -> Result<Value, Value> {
        loop {
            let message = self.receive();
            if message["id"] == id && message.get("method").is_none() {
                return match message.get("error") {
                    Some(error) => Err(error.clone()),
                    None => Ok(message["result"].clone()),
                };
            }
        }
    }

    pub fn ask(&mut self, method: &str, parameters: Value) -> Result<Value, Value> {
        let id = self.begin(method, parameters);
        self.answer(id)
    }

    pub fn open(&mut self, path: &Path, text: &str) {
        let document = json!({ "uri": uri(path), "languageId": "kdl", "version": 1, "text": text });
        self.tell("textDocument/didOpen", json!({ "textDocument": document }));
    }

    pub fn change(&mut self, path: &Path, version: i64, text: &str) {
        self.tell(
            "textDocument/didChange",
            json!({ "textDocument": { "uri": uri(path), "version": version }, "contentChanges": [{ "text": text }] }),
        );
    }

    /// Waits until this version of a text has its diagnostics.
    pub fn diagnostics(&mut self, path: &Path, version: i64) -> Vec<Value> {
        let address = uri(path);
        while self.published.get(&address).is_none_or(|published| published["version"] != version) {
            self.receive();
        }
        self.published[&address]["diagnostics"].as_array().unwrap().clone()
    }

    /// Asks about a whole text, or about a place in it.
    pub fn about(
        &mut self,
        method: &str,
        path: &Path,
        at: Option<(usize, usize)>,
        more: Value,
    ) -> Result<Value, Value> {
        let mut parameters = json!({ "textDocument": { "uri": uri(path) } });
        if let Some((line, character)) = at {
            parameters["position"] = json!({ "line": line, "character": character });
        }
        for (key, value) in more.as_object().into_iter().flatten() {
            parameters[key] = value.clone();
        }
        self.ask(&format!("textDocument/{method}"), parameters)
    }

    /// Says goodbye; the server must leave cleanly.
    pub fn leave(mut self) {
        self.ask("shutdown", Value::Null).unwrap();
        self.tell("exit", Value::Null);
        assert!(self.child.wait().unwrap().success());
    }
}

/// Line and character of the nth place of some words in a plain ASCII text.
pub fn place(text: &str, words: &str, nth: usize) -> (usize, usize) {
    let offset = text.match_indices(words).nth(nth).unwrap_or_else(|| panic!("no `{words}`")).0;
    let before = &text[..offset];
    (before.matches('\n').count(), offset - before.rfind('\n').map_or(0, |end| end + 1))
}

pub fn whole() -> Value {
    json!({ "range": { "start": { "line": 0, "character": 0 }, "end": { "line": 9999, "character": 0 } } })
}

/// The rules that diagnostics name, in order.
pub fn rules(diagnostics: &[Value]) -> Vec<&str> {
    diagnostics.iter().filter_map(|one| one["code"].as_str()).filter(|code| *code != "not-judged").collect()
}

/// The text with edits made, characters counted as code points.
pub fn edited(text: &str, edits: &Value) -> String {
    let offset = |position: &Value| {
        let line = position["line"].as_u64().unwrap() as usize;
        let start: usize = text.split_inclusive('\n').take(line).map(str::len).sum();
        let line_text = &text[start..];
        let characters = position["character"].as_u64().unwrap() as usize;
        start + line_text.char_indices().nth(characters).map_or(line_text.len(), |(index, _)| index)
    };
    let mut edits: Vec<(usize, usize, &str)> = edits
        .as_array()
        .unwrap()
        .iter()
        .map(|edit| {
            let range = &edit["range"];
            (offset(&range["start"]), offset(&range["end"]), edit["newText"].as_str().unwrap())
        })
        .collect();
    edits.sort_unstable();
    let mut result = text.to_owned();
    for (start, end, new) in edits.into_iter().rev() {
        result.replace_range(start..end, new);
    }
    result
}
