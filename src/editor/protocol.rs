//! The only file that knows the types of the language server protocol (3.17): questions in, answers out.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use gen_lsp_types as lsp;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use super::answer::{Action, Edit, Hint, Item, ItemKind, Notice, Place, Sort, Suggestion, Token, Weight};
use super::buffers::Buffers;
use super::position::{Encoding, Lines};
use super::tokens::KINDS;
use super::uri::{path_of, uri_of};

/// The name that notices carry.
const SOURCE: &str = "coldcheck";

/// What a client can do, as far as answers differ by it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Client {
    /// How it counts characters.
    pub(super) encoding: Encoding,
    /// Whether it shows the further places of a notice.
    related: bool,
    /// Whether it takes edits with the version of the text that they are for.
    versioned_edits: bool,
    /// Whether it watches files for the server.
    pub(super) watches: bool,
}

impl Client {
    /// Reads the parameters of `initialize`.
    pub(super) fn of(parameters: &Value) -> Self {
        let flag = |pointer: &str| parameters.pointer(pointer).and_then(Value::as_bool).unwrap_or(false);
        let offered = parameters.pointer("/capabilities/general/positionEncodings").and_then(Value::as_array);
        let offers = |name: &str| offered.is_some_and(|offered| offered.iter().any(|one| one == name));
        let encoding = if offers("utf-8") {
            Encoding::Utf8
        } else if offers("utf-32") {
            Encoding::Utf32
        } else {
            Encoding::Utf16
        };
        Self {
            encoding,
            related: flag("/capabilities/textDocument/publishDiagnostics/relatedInformation"),
            versioned_edits: flag("/capabilities/workspace/workspaceEdit/documentChanges"),
            watches: flag("/capabilities/workspace/didChangeWatchedFiles/dynamicRegistration"),
        }
    }
}

/// What the server can do, as the answer to `initialize`.
pub(super) fn capabilities(client: &Client) -> Value {
    let encoding = match client.encoding {
        Encoding::Utf8 => lsp::PositionEncodingKind::UTF8,
        Encoding::Utf16 => lsp::PositionEncodingKind::UTF16,
        Encoding::Utf32 => lsp::PositionEncodingKind::UTF32,
    };
    let sync = lsp::TextDocumentSyncOptions {
        open_close: Some(true),
        change: Some(lsp::TextDocumentSyncKind::Full),
        save: Some(lsp::Save::Bool(true)),
        ..Default::default()
    };
    let legend = lsp::SemanticTokensLegend {
        token_types: KINDS.iter().map(|kind| (*kind).to_owned()).collect(),
        token_modifiers: Vec::new(),
    };
    let result = lsp::InitializeResult {
        capabilities: lsp::ServerCapabilities {
            position_encoding: Some(encoding),
            text_document_sync: Some(lsp::TextDocumentSync::Options(sync)),
            hover_provider: Some(lsp::HoverProvider::Bool(true)),
            inlay_hint_provider: Some(lsp::InlayHintProvider::Bool(true)),
            definition_provider: Some(lsp::DefinitionProvider::Bool(true)),
            references_provider: Some(lsp::ReferencesProvider::Bool(true)),
            document_formatting_provider: Some(lsp::DocumentFormattingProvider::Bool(true)),
            document_symbol_provider: Some(lsp::DocumentSymbolProvider::Bool(true)),
            completion_provider: Some(lsp::CompletionOptions {
                trigger_characters: Some(["=", "\"", ".", " "].map(str::to_owned).to_vec()),
                ..Default::default()
            }),
            code_action_provider: Some(lsp::CodeActionProvider::CodeActionOptions(lsp::CodeActionOptions {
                code_action_kinds: Some(vec![lsp::CodeActionKind::QuickFix]),
                ..Default::default()
            })),
            rename_provider: Some(lsp::RenameProvider::RenameOptions(lsp::RenameOptions {
                prepare_provider: Some(true),
                ..Default::default()
            })),
            semantic_tokens_provider: Some(lsp::SemanticTokensProvider::SemanticTokensOptions(
                lsp::SemanticTokensOptions { legend, full: Some(lsp::Full::Bool(true)), ..Default::default() },
            )),
            ..Default::default()
        },
        server_info: Some(lsp::ServerInfo {
            name: SOURCE.to_owned(),
            version: Some(env!("CARGO_PKG_VERSION").to_owned()),
        }),
    };
    value(result)
}

/// The parameters of the request that asks the client to watch design, rule and workshop files.
pub(super) fn watch_files() -> Value {
    let watcher = lsp::FileSystemWatcher { glob_pattern: lsp::GlobPattern::Pattern("**/*.kdl".to_owned()), kind: None };
    value(lsp::RegistrationParams {
        registrations: vec![lsp::Registration {
            id: "files".to_owned(),
            method: "workspace/didChangeWatchedFiles".to_owned(),
            register_options: Some(value(lsp::DidChangeWatchedFilesRegistrationOptions { watchers: vec![watcher] })),
        }],
    })
}

/// A line and a character as the client counts.
pub(super) type At = (u32, u32);

/// What a client tells.
#[derive(Debug)]
pub(super) enum Told {
    /// A text was opened or changed: its address, version and whole text.
    Text(String, i32, String),
    /// A text was closed.
    Closed(String),
    /// Files were saved or changed on the disk.
    Saved(Vec<String>),
}

/// What a client asks of a text.
#[derive(Clone, Debug)]
pub(super) enum Ask {
    Hints,
    Hover(At),
    Complete(At),
    Actions(At, At),
    Definition(At),
    References(At, bool),
    PrepareRename(At),
    Rename(At, String),
    Outline,
    Format,
    Tokens,
}

impl Ask {
    /// Whether it can be answered from the text alone.
    pub(super) fn needs_no_inspection(&self) -> bool {
        matches!(self, Self::Complete(_) | Self::Outline | Self::Format)
    }
}

fn parsed<P: DeserializeOwned>(parameters: Value) -> Option<P> {
    serde_json::from_value(parameters).ok()
}

fn value(answer: impl Serialize) -> Value {
    serde_json::to_value(answer).unwrap_or(Value::Null)
}

/// A notification in the house's words; nothing of one that means nothing here.
pub(super) fn told(method: &str, parameters: Value) -> Option<Told> {
    Some(match method {
        "textDocument/didOpen" => {
            let opened = parsed::<lsp::DidOpenTextDocumentParams>(parameters)?.text_document;
            Told::Text(opened.uri.0, opened.version, opened.text)
        }
        "textDocument/didChange" => {
            let changed = parsed::<lsp::DidChangeTextDocumentParams>(parameters)?;
            // Full text was agreed on, so the last of several changes is all that counts.
            let text = match changed.content_changes.into_iter().last()? {
                lsp::TextDocumentContentChangeEvent::TextDocumentContentChangeWholeDocument(whole) => whole.text,
                lsp::TextDocumentContentChangeEvent::TextDocumentContentChangePartial(_) => return None,
            };
            let document = changed.text_document;
            Told::Text(document.text_document_identifier.uri.0, document.version, text)
        }
        "textDocument/didClose" => {
            Told::Closed(parsed::<lsp::DidCloseTextDocumentParams>(parameters)?.text_document.uri.0)
        }
        "textDocument/didSave" => {
            Told::Saved(vec![parsed::<lsp::DidSaveTextDocumentParams>(parameters)?.text_document.uri.0])
        }
        "workspace/didChangeWatchedFiles" => {
            let changes = parsed::<lsp::DidChangeWatchedFilesParams>(parameters)?.changes;
            Told::Saved(changes.into_iter().map(|change| change.uri.0).collect())
        }
        _ => return None,
    })
}

/// A request in the house's words, with the text that it asks of; nothing of one that is not known or not well formed.
pub(super) fn asked(method: &str, parameters: Value) -> Option<(PathBuf, Ask)> {
    let at = |position: lsp::Position| (position.line, position.character);
    let placed = |parameters: Value, ask: fn(At) -> Ask| {
        let place = parsed::<lsp::TextDocumentPositionParams>(parameters)?;
        Some((place.text_document.uri, ask(at(place.position))))
    };
    let (uri, ask) = match method {
        "textDocument/hover" => placed(parameters, Ask::Hover)?,
        "textDocument/completion" => placed(parameters, Ask::Complete)?,
        "textDocument/definition" => placed(parameters, Ask::Definition)?,
        "textDocument/prepareRename" => placed(parameters, Ask::PrepareRename)?,
        "textDocument/inlayHint" => (parsed::<lsp::InlayHintParams>(parameters)?.text_document.uri, Ask::Hints),
        "textDocument/documentSymbol" => {
            (parsed::<lsp::DocumentSymbolParams>(parameters)?.text_document.uri, Ask::Outline)
        }
        "textDocument/formatting" => {
            (parsed::<lsp::DocumentFormattingParams>(parameters)?.text_document.uri, Ask::Format)
        }
        "textDocument/semanticTokens/full" => {
            (parsed::<lsp::SemanticTokensParams>(parameters)?.text_document.uri, Ask::Tokens)
        }
        "textDocument/codeAction" => {
            // The diagnostics that the client sends along are its own copy; only the place is needed.
            let uri = parameters.pointer("/textDocument/uri")?.as_str()?.to_owned();
            let range = parsed::<lsp::Range>(parameters.get("range")?.clone())?;
            (lsp::Uri(uri), Ask::Actions(at(range.start), at(range.end)))
        }
        "textDocument/references" => {
            let asked = parsed::<lsp::ReferenceParams>(parameters)?;
            let place = asked.text_document_position_params;
            (place.text_document.uri, Ask::References(at(place.position), asked.context.include_declaration))
        }
        "textDocument/rename" => {
            let asked = parsed::<lsp::RenameParams>(parameters)?;
            let place = asked.text_document_position_params;
            (place.text_document.uri, Ask::Rename(at(place.position), asked.new_name))
        }
        _ => return None,
    };
    Some((path_of(&uri.0)?, ask))
}

/// Writes answers: knows the client and the texts that offsets point into.
pub(super) struct Writer<'a> {
    pub(super) client: Client,
    pub(super) buffers: &'a Buffers,
    pub(super) text: &'a dyn Fn(&Path) -> Option<String>,
}

impl Writer<'_> {
    /// The address of a file, as the client writes it where it has the file open.
    fn uri(&self, path: &Path) -> lsp::Uri {
        lsp::Uri(self.buffers.get(path).map_or_else(|| uri_of(path), |buffer| buffer.uri.clone()))
    }

    fn range(lines: &Lines<'_>, start: usize, end: usize) -> lsp::Range {
        let at = |offset: usize| {
            let (line, character) = lines.position(offset);
            lsp::Position { line, character }
        };
        lsp::Range { start: at(start), end: at(end.max(start)) }
    }

    fn range_in(&self, place: &Place) -> lsp::Range {
        let text = (self.text)(&place.path).unwrap_or_default();
        Self::range(&Lines::of(&text, self.client.encoding), place.start, place.end)
    }

    fn location(&self, place: &Place) -> lsp::Location {
        lsp::Location { uri: self.uri(&place.path), range: self.range_in(place) }
    }

    /// The parameters of `textDocument/publishDiagnostics`.
    pub(super) fn publication(&self, path: &Path, notices: &[Notice]) -> Value {
        value(lsp::PublishDiagnosticsParams {
            uri: self.uri(path),
            version: self.buffers.get(path).map(|buffer| buffer.version),
            diagnostics: notices.iter().map(|notice| self.diagnostic(notice)).collect(),
        })
    }

    fn diagnostic(&self, notice: &Notice) -> lsp::Diagnostic {
        let mut message = notice.message.clone();
        if !self.client.related {
            for (_, text) in &notice.related {
                message.push('\n');
                message.push_str(text);
            }
        }
        let related = |(place, text): &(Place, String)| lsp::DiagnosticRelatedInformation {
            location: self.location(place),
            message: text.clone(),
        };
        let data: serde_json::Map<String, Value> =
            notice.data.iter().map(|(key, text)| ((*key).to_owned(), json!(text))).collect();
        lsp::Diagnostic {
            range: self.range_in(&notice.place),
            severity: Some(match notice.weight {
                Weight::Error => lsp::DiagnosticSeverity::Error,
                Weight::Warning => lsp::DiagnosticSeverity::Warning,
                Weight::Information => lsp::DiagnosticSeverity::Information,
                Weight::Hint => lsp::DiagnosticSeverity::Hint,
            }),
            code: notice.rule.clone().map(lsp::Code::String),
            code_description: notice.written.as_ref().map(|file| lsp::CodeDescription { href: self.uri(file) }),
            source: Some(SOURCE.to_owned()),
            message: message.into(),
            tags: None,
            related_information: (self.client.related && !notice.related.is_empty())
                .then(|| notice.related.iter().map(related).collect()),
            data: (!data.is_empty()).then_some(Value::Object(data)),
        }
    }

    pub(super) fn hints(&self, path: &Path, hints: &[Hint]) -> Value {
        let text = (self.text)(path).unwrap_or_default();
        let lines = Lines::of(&text, self.client.encoding);
        let hint = |hint: &Hint| lsp::InlayHint {
            position: Self::range(&lines, hint.offset, hint.offset).start,
            label: hint.text.clone().into(),
            kind: None,
            text_edits: None,
            tooltip: (!hint.more.is_empty()).then(|| hint.more.clone().into()),
            padding_left: Some(true),
            padding_right: None,
            data: None,
        };
        value(hints.iter().map(hint).collect::<Vec<_>>())
    }

    pub(super) fn hover(&self, text: String, place: &Place) -> Value {
        let contents =
            lsp::Contents::MarkupContent(lsp::MarkupContent { kind: lsp::MarkupKind::Markdown, value: text });
        value(lsp::Hover { contents, range: Some(self.range_in(place)) })
    }

    pub(super) fn suggestions(&self, path: &Path, suggestions: Vec<Suggestion>) -> Value {
        let text = (self.text)(path).unwrap_or_default();
        let lines = Lines::of(&text, self.client.encoding);
        let items = suggestions.into_iter().enumerate().map(|(order, one)| lsp::CompletionItem {
            kind: Some(match one.sort {
                Sort::Statement => lsp::CompletionItemKind::Keyword,
                Sort::Property => lsp::CompletionItemKind::Property,
                Sort::Net => lsp::CompletionItemKind::Variable,
                Sort::Terminal => lsp::CompletionItemKind::Field,
                Sort::Word => lsp::CompletionItemKind::EnumMember,
                Sort::Device => lsp::CompletionItemKind::Class,
                Sort::Value => lsp::CompletionItemKind::Value,
                Sort::Rule => lsp::CompletionItemKind::Reference,
                Sort::Name => lsp::CompletionItemKind::Variable,
            }),
            // The house's order is meant: shelf values ascend, properties stand as they are read.
            sort_text: Some(format!("{order:05}")),
            filter_text: Some(one.text.clone()),
            text_edit: Some(lsp::CompletionItemTextEdit::TextEdit(lsp::TextEdit {
                range: Self::range(&lines, one.start, one.end),
                new_text: one.text,
            })),
            detail: (!one.detail.is_empty()).then_some(one.detail),
            label: one.label,
            ..Default::default()
        });
        value(lsp::CompletionList {
            is_incomplete: false,
            item_defaults: None,
            apply_kind: None,
            items: items.collect(),
        })
    }

    /// The whole text of a file in place of what it is.
    pub(super) fn whole(&self, path: &Path, new: String) -> Value {
        let text = (self.text)(path).unwrap_or_default();
        if text == new {
            return value(Vec::<lsp::TextEdit>::new());
        }
        let range = Self::range(&Lines::of(&text, self.client.encoding), 0, text.len());
        value(vec![lsp::TextEdit { range, new_text: new }])
    }

    /// Edits of one or more files.
    pub(super) fn edits<'e>(&self, edits: impl IntoIterator<Item = &'e Edit>) -> Value {
        value(self.workspace_edit(edits))
    }

    fn workspace_edit<'e>(&self, edits: impl IntoIterator<Item = &'e Edit>) -> lsp::WorkspaceEdit {
        let mut files: Vec<(&Path, Vec<lsp::TextEdit>)> = Vec::new();
        for edit in edits {
            let made = lsp::TextEdit { range: self.range_in(&edit.place), new_text: edit.text.clone() };
            match files.iter_mut().find(|(path, _)| *path == edit.place.path) {
                Some((_, known)) => known.push(made),
                None => files.push((&edit.place.path, vec![made])),
            }
        }
        if !self.client.versioned_edits {
            let changes: HashMap<lsp::Uri, Vec<lsp::TextEdit>> =
                files.into_iter().map(|(path, edits)| (self.uri(path), edits)).collect();
            return lsp::WorkspaceEdit { changes: Some(changes), ..Default::default() };
        }
        let changes = files.into_iter().map(|(path, edits)| {
            let text_document_identifier = lsp::TextDocumentIdentifier { uri: self.uri(path) };
            let version = self.buffers.get(path).map(|buffer| buffer.version);
            lsp::DocumentChange::TextDocumentEdit(lsp::TextDocumentEdit {
                text_document: lsp::OptionalVersionedTextDocumentIdentifier { version, text_document_identifier },
                edits: edits.into_iter().map(lsp::Edit::TextEdit).collect(),
            })
        });
        lsp::WorkspaceEdit { document_changes: Some(changes.collect()), ..Default::default() }
    }

    pub(super) fn actions(&self, actions: &[Action]) -> Value {
        let action = |action: &Action| lsp::CodeAction {
            title: action.title.clone(),
            kind: Some(lsp::CodeActionKind::QuickFix),
            diagnostics: Some(vec![self.diagnostic(&action.notice)]),
            is_preferred: Some(action.preferred),
            edit: Some(self.workspace_edit(&action.edits)),
            ..Default::default()
        };
        value(actions.iter().map(action).collect::<Vec<_>>())
    }

    pub(super) fn places(&self, places: &[Place]) -> Value {
        value(places.iter().map(|place| self.location(place)).collect::<Vec<_>>())
    }

    /// The stretch that would be renamed, with its text.
    pub(super) fn renamable(&self, place: &Place) -> Value {
        let text = (self.text)(&place.path).unwrap_or_default();
        let placeholder = text.get(place.start..place.end).unwrap_or_default().to_owned();
        value(lsp::PrepareRenamePlaceholder { range: self.range_in(place), placeholder })
    }

    pub(super) fn outline(&self, path: &Path, items: &[Item]) -> Value {
        let text = (self.text)(path).unwrap_or_default();
        let lines = Lines::of(&text, self.client.encoding);
        value(items.iter().map(|item| symbol(item, &lines)).collect::<Vec<_>>())
    }

    pub(super) fn tokens(&self, path: &Path, tokens: &[Token]) -> Value {
        let text = (self.text)(path).unwrap_or_default();
        let lines = Lines::of(&text, self.client.encoding);
        let mut before = (0, 0);
        let data = tokens.iter().map(|token| {
            let (line, character) = lines.position(token.start);
            let length = lines.length(text.get(token.start..token.end).unwrap_or(""));
            let delta_line = line - before.0;
            let delta_start = if delta_line == 0 { character - before.1 } else { character };
            before = (line, character);
            lsp::SemanticToken {
                delta_line,
                delta_start,
                length: u32::try_from(length).unwrap_or(u32::MAX),
                token_type: token.kind,
                token_modifiers_bitset: 0,
            }
        });
        value(lsp::SemanticTokens { result_id: None, data: data.collect() })
    }
}

fn symbol(item: &Item, lines: &Lines<'_>) -> Value {
    let kind = match item.kind {
        ItemKind::Design => lsp::SymbolKind::File,
        ItemKind::Part => lsp::SymbolKind::Object,
        ItemKind::Stage => lsp::SymbolKind::Class,
        ItemKind::Copy => lsp::SymbolKind::Namespace,
        ItemKind::Include => lsp::SymbolKind::Module,
        ItemKind::Winding => lsp::SymbolKind::Field,
    };
    json!({
        "name": item.name,
        "detail": item.detail,
        "kind": kind,
        "range": Writer::range(lines, item.whole.0, item.whole.1),
        "selectionRange": Writer::range(lines, item.named.0, item.named.1),
        "children": item.children.iter().map(|child| symbol(child, lines)).collect::<Vec<_>>(),
    })
}
