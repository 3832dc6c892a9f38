//! The talk with one client: messages taken as they come, edits gathered before one inspection, questions answered after.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use lsp_server::{Connection, ErrorCode, Message, Notification, Request, RequestId, Response};
use serde_json::Value;

use crate::source::tidy;

use super::answer::Notice;
use super::buffers::Buffer;
use super::position::Lines;
use super::protocol::{Ask, Client, Told, Writer, asked, capabilities, told, watch_files};
use super::server::Editor;
use super::surroundings::Surroundings;
use super::uri::path_of;

/// How long an edit waits for the next: the messages that are under way arrive within this.
const GATHERING: Duration = Duration::from_millis(2);

/// A question that waits for its answer.
struct Open {
    id: RequestId,
    path: PathBuf,
    ask: Ask,
    /// The version of the text when it was asked.
    version: Option<i32>,
}

/// Talks with a client until it leaves.
///
/// # Errors
/// What went wrong with the talk itself, in a sentence; the client is gone then.
pub fn serve(connection: &Connection, surroundings: &dyn Surroundings) -> Result<(), String> {
    let (id, parameters) = connection.initialize_start().map_err(|error| error.to_string())?;
    let client = Client::of(&parameters);
    connection.initialize_finish(id, capabilities(&client)).map_err(|error| error.to_string())?;
    let talk = Talk { connection, client, editor: Editor::new(surroundings), open: Vec::new(), said: BTreeMap::new() };
    if client.watches {
        let id = RequestId::from("watch".to_owned());
        talk.send(Request::new(id, "client/registerCapability".to_owned(), watch_files()).into());
    }
    talk.run()
}

struct Talk<'a> {
    connection: &'a Connection,
    client: Client,
    editor: Editor<'a>,
    open: Vec<Open>,
    /// What was last published of each file, with the version that it was published for.
    said: BTreeMap<PathBuf, (Option<i32>, Vec<Notice>)>,
}

impl Talk<'_> {
    fn run(mut self) -> Result<(), String> {
        while let Ok(message) = self.connection.receiver.recv() {
            let mut next = Some(message);
            while let Some(message) = next {
                if self.take(message)? {
                    return Ok(());
                }
                next = self.connection.receiver.recv_timeout(GATHERING).ok();
            }
            self.answer(false);
            if self.editor.refresh() {
                self.publish();
            }
            self.answer(true);
        }
        Ok(())
    }

    /// A client that no longer listens will be noticed when it no longer speaks.
    fn send(&self, message: Message) {
        drop(self.connection.sender.send(message));
    }

    /// Takes a message; gives whether the client has left.
    fn take(&mut self, message: Message) -> Result<bool, String> {
        match message {
            Message::Request(request) => {
                if self.connection.handle_shutdown(&request).map_err(|error| error.to_string())? {
                    return Ok(true);
                }
                self.ask(request);
            }
            Message::Notification(notification) => self.told(notification),
            Message::Response(_) => {}
        }
        Ok(false)
    }

    fn ask(&mut self, request: Request) {
        let Request { id, method, params } = request;
        match asked(&method, params) {
            Some((path, ask)) => {
                let version = self.editor.buffers().get(&path).map(|buffer| buffer.version);
                self.open.push(Open { id, path, ask, version });
            }
            None => {
                let (code, text) = if method.starts_with("textDocument/") {
                    (ErrorCode::InvalidParams, format!("`{method}` cannot be answered for this"))
                } else {
                    (ErrorCode::MethodNotFound, format!("`{method}` is not known"))
                };
                self.refuse(id, code, text);
            }
        }
    }

    fn refuse(&self, id: RequestId, code: ErrorCode, text: String) {
        self.send(Response::new_err(id, code as i32, text).into());
    }

    fn told(&mut self, notification: Notification) {
        let Notification { method, params } = notification;
        if method == "$/cancelRequest" {
            let id = match params.get("id") {
                Some(Value::String(id)) => RequestId::from(id.clone()),
                Some(Value::Number(id)) => match id.as_i64().and_then(|id| i32::try_from(id).ok()) {
                    Some(id) => RequestId::from(id),
                    None => return,
                },
                _ => return,
            };
            if let Some(index) = self.open.iter().position(|open| open.id == id) {
                self.open.remove(index);
                self.refuse(id, ErrorCode::RequestCanceled, "taken back".to_owned());
            }
            return;
        }
        match told(&method, params) {
            Some(Told::Text(uri, version, text)) => {
                if let Some(path) = path_of(&uri) {
                    self.editor.put(path, Buffer { uri, version, text });
                }
            }
            Some(Told::Closed(uri)) => path_of(&uri).iter().for_each(|path| self.editor.close(path)),
            Some(Told::Saved(uris)) => {
                uris.iter().filter_map(|uri| path_of(uri)).for_each(|path| self.editor.saved(&path))
            }
            None => {}
        }
    }

    /// Publishes what has changed since it was last published.
    fn publish(&mut self) {
        let mut notices = self.editor.notices();
        for path in self.said.keys() {
            notices.entry(path.clone()).or_default();
        }
        let editor = &self.editor;
        let text = |path: &Path| editor.text(path);
        let writer = Writer { client: self.client, buffers: editor.buffers(), text: &text };
        let mut messages = Vec::new();
        for (path, notices) in notices {
            let version = editor.buffers().get(&path).map(|buffer| buffer.version);
            let now = (version, notices);
            if self.said.get(&path) == Some(&now) {
                continue;
            }
            messages.push(writer.publication(&path, &now.1));
            if now.0.is_none() && now.1.is_empty() {
                self.said.remove(&path);
            } else {
                self.said.insert(path, now);
            }
        }
        for parameters in messages {
            self.send(Notification::new("textDocument/publishDiagnostics".to_owned(), parameters).into());
        }
    }

    /// Answers what is open; before an inspection, what can do without.
    fn answer(&mut self, inspected: bool) {
        let ready = |open: &Open| inspected || (open.ask.needs_no_inspection() && self.editor.knows(&open.path));
        let (now, later) = std::mem::take(&mut self.open).into_iter().partition(ready);
        self.open = later;
        for open in now {
            let current = self.editor.buffers().get(&open.path).map(|buffer| buffer.version);
            if current != open.version {
                self.refuse(open.id, ErrorCode::ContentModified, "the text has changed since".to_owned());
                continue;
            }
            let message = match self.reply(&open.path, open.ask) {
                Ok(answer) => Response::new_ok(open.id, answer),
                Err(reason) => Response::new_err(open.id, ErrorCode::RequestFailed as i32, reason),
            };
            self.send(message.into());
        }
    }

    fn reply(&mut self, path: &Path, ask: Ask) -> Result<Value, String> {
        let text = self.editor.text(path).unwrap_or_default();
        let offset = |(line, character): (u32, u32)| Lines::of(&text, self.client.encoding).offset(line, character);
        match ask {
            Ask::Hints => {
                let hints = self.editor.hints(path);
                Ok(self.write(|writer| writer.hints(path, &hints)))
            }
            Ask::Hover(at) => {
                let hover = self.editor.hover(path, offset(at));
                Ok(hover.map_or(Value::Null, |(text, place)| self.write(|writer| writer.hover(text, &place))))
            }
            Ask::Complete(at) => {
                let found = self.editor.complete(path, offset(at));
                Ok(self.write(|writer| writer.suggestions(path, found)))
            }
            Ask::Actions(from, to) => {
                // Findings of the whole line are meant, wherever in it the cursor is.
                let end = if to.1 == 0 && to.0 > from.0 { to } else { (to.0, u32::MAX) };
                let actions = self.editor.actions(path, (offset((from.0, 0)), offset(end)));
                Ok(self.write(|writer| writer.actions(&actions)))
            }
            Ask::Definition(at) => {
                let place = self.editor.definition(path, offset(at));
                Ok(self.write(|writer| writer.places(place.as_slice())))
            }
            Ask::References(at, with_origin) => {
                let places = self.editor.references(path, offset(at), with_origin);
                Ok(self.write(|writer| writer.places(&places)))
            }
            Ask::PrepareRename(at) => {
                let (place, _) = self.editor.renamable(path, offset(at))?;
                Ok(self.write(|writer| writer.renamable(&place)))
            }
            Ask::Rename(at, new) => {
                let edits = self.editor.rename(path, offset(at), &new)?;
                Ok(self.write(|writer| writer.edits(&edits)))
            }
            Ask::Outline => {
                let items = self.editor.outline(path);
                Ok(self.write(|writer| writer.outline(path, &items)))
            }
            Ask::Format => match tidy(&text) {
                Ok(laid_out) => Ok(self.write(|writer| writer.whole(path, laid_out))),
                Err(complaints) => Err(match complaints.first() {
                    Some(complaint) => format!("not touched: {}", complaint.message),
                    None => "not touched: it cannot be read".to_owned(),
                }),
            },
            Ask::Tokens => {
                let tokens = self.editor.tokens(path);
                Ok(self.write(|writer| writer.tokens(path, &tokens)))
            }
        }
    }

    fn write<T>(&self, write: impl FnOnce(&Writer<'_>) -> T) -> T {
        let text = |path: &Path| self.editor.text(path);
        write(&Writer { client: self.client, buffers: self.editor.buffers(), text: &text })
    }
}
