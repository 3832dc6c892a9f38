"""Drives the server with a client library of Python (pygls and lsprotocol): PROGRAM and FOLDER as arguments."""

import asyncio
import pathlib
import sys

from lsprotocol import types as lsp
from pygls.lsp.client import LanguageClient

program, folder = sys.argv[1], pathlib.Path(sys.argv[2]).resolve()
failures = 0


def check(what, good):
    global failures
    print(("ok   " if good else "FAIL ") + what)
    failures += not good


def place(text, words):
    before = text[: text.index(words)]
    return lsp.Position(line=before.count("\n"), character=len(before) - before.rfind("\n") - 1)


def edited(text, edits):
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    at = lambda position: starts[position.line] + position.character  # the examples are ASCII
    for edit in sorted(edits, key=lambda edit: at(edit.range.start), reverse=True):
        text = text[: at(edit.range.start)] + edit.new_text + text[at(edit.range.end) :]
    return text


async def main():
    client = LanguageClient("check", "1")
    published = {}
    news = asyncio.Event()

    @client.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
    def take(parameters):
        published[parameters.uri] = parameters
        news.set()

    await client.start_io(program, "editor", cwd=str(folder))
    answer = await client.initialize_async(
        lsp.InitializeParams(
            capabilities=lsp.ClientCapabilities(
                general=lsp.GeneralClientCapabilities(
                    position_encodings=[lsp.PositionEncodingKind.Utf8, lsp.PositionEncodingKind.Utf16]
                ),
                workspace=lsp.WorkspaceClientCapabilities(
                    workspace_edit=lsp.WorkspaceEditClientCapabilities(document_changes=True)
                ),
            ),
            root_uri=folder.as_uri(),
        )
    )
    check("UTF-8 is agreed on", answer.capabilities.position_encoding == "utf-8")
    client.initialized(lsp.InitializedParams())

    path = folder / "faulty" / "reading-room-line-stage-c.kdl"
    uri, version, text = path.as_uri(), 1, path.read_text()
    document = lsp.TextDocumentIdentifier(uri=uri)
    client.text_document_did_open(
        lsp.DidOpenTextDocumentParams(lsp.TextDocumentItem(uri=uri, language_id="kdl", version=1, text=text))
    )

    async def codes():
        while uri not in published or published[uri].version != version:
            news.clear()
            await asyncio.wait_for(news.wait(), 60)
        return [one.code for one in published[uri].diagnostics]

    async def change(new):
        nonlocal text, version
        text, version = new, version + 1
        client.text_document_did_change(
            lsp.DidChangeTextDocumentParams(
                text_document=lsp.VersionedTextDocumentIdentifier(uri=uri, version=version),
                content_changes=[lsp.TextDocumentContentChangeWholeDocument(text=text)],
            )
        )
        return await codes()

    def at(words):
        return {"text_document": document, "position": place(text, words)}

    found = await codes()
    check("diagnostics of a faulty design", "mains/fuse" in found and "capacitor/working-voltage" in found)
    found = await change(text.replace('voltage="350V"', 'voltage="450V"'))
    check("the value is edited and its findings clear", "capacitor/working-voltage" not in found and "mains/fuse" in found)

    whole = lsp.Range(start=lsp.Position(0, 0), end=lsp.Position(999, 0))
    hints = await client.text_document_inlay_hint_async(lsp.InlayHintParams(text_document=document, range=whole))
    labels = [hint.label for hint in hints]
    check("hints", "331 V" in labels and any("of 500 mW" in label for label in labels))
    hover = await client.text_document_hover_async(lsp.HoverParams(**at("C11")))
    check("hover", "peak-voltage" in hover.contents.value)
    completion = await client.text_document_completion_async(lsp.CompletionParams(**at('"EZ81"')))
    check("completion", "EZ81" in [item.label for item in completion.items])

    start = place(text, "resistor R3")
    actions = await client.text_document_code_action_async(
        lsp.CodeActionParams(
            text_document=document,
            range=lsp.Range(start=start, end=lsp.Position(start.line + 1, 0)),
            context=lsp.CodeActionContext(diagnostics=[]),
        )
    )
    action = next(action for action in actions if action.title == "change `0.5W` to `2W`")
    change_of = action.edit.document_changes[0]
    check("an action for this version of the text", change_of.text_document.version == version and action.is_preferred)
    found = await change(edited(text, change_of.edits))
    check("the action applied clears its finding", "resistor/dissipation" not in found)

    rename = await client.text_document_rename_async(lsp.RenameParams(**at("bplus"), new_name="b-plus"))
    await change(edited(text, rename.document_changes[0].edits))
    check("rename", "supply=b-plus" in text and "bplus" not in text)
    references = await client.text_document_references_async(
        lsp.ReferenceParams(**at("b-plus"), context=lsp.ReferenceContext(include_declaration=True))
    )
    check("references", len(references) == text.count("b-plus"))
    definition = await client.text_document_definition_async(lsp.DefinitionParams(**at("V1b")))
    check("definition", definition[0].range.start == place(text, 'V1 "12AU7"'))

    await change(text.replace("choke L1 ", "choke    L1 "))
    options = lsp.FormattingOptions(tab_size=4, insert_spaces=True)
    edits = await client.text_document_formatting_async(
        lsp.DocumentFormattingParams(text_document=document, options=options)
    )
    await change(edited(text, edits))
    check("formatting", "\nchoke L1 " in text and "choke    L1" not in text)
    symbols = await client.text_document_document_symbol_async(lsp.DocumentSymbolParams(text_document=document))
    check("symbols", any(symbol.name == "line" and symbol.children for symbol in symbols))
    tokens = await client.text_document_semantic_tokens_full_async(lsp.SemanticTokensParams(text_document=document))
    check("semantic tokens", len(tokens.data) % 5 == 0 and len(tokens.data) > 500)

    await client.shutdown_async(None)
    client.exit(None)
    await asyncio.wait_for(client._server.wait(), 10)
    check("the server leaves when it is told to", client._server.returncode == 0)


asyncio.run(asyncio.wait_for(main(), 300))
print("\npython: all is well" if failures == 0 else f"\npython: {failures} failed")
sys.exit(failures != 0)
