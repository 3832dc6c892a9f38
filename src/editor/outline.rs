//! The outline of a file: its statements that name something, stages with what is in them.

use crate::design::{Vocabulary, word};
use crate::source::{FileId, Spanned, Statement, parse_text};

use super::answer::{Item, ItemKind};

/// The outline of a text.
pub(super) fn outline(text: &str) -> Vec<Item> {
    let (statements, _) = parse_text(FileId(0), text);
    statements.iter().filter_map(|statement| item(statement, None)).collect()
}

fn item(statement: &Statement, parent: Option<&str>) -> Option<Item> {
    let keyword = statement.name.value.as_str();
    let kind = match keyword {
        "design" => ItemKind::Design,
        "stage" => ItemKind::Stage,
        "fit" => ItemKind::Copy,
        "include" => ItemKind::Include,
        "primary" | "winding" | "secondary" if parent.is_some() => ItemKind::Winding,
        _ if Vocabulary::is_part(keyword) => ItemKind::Part,
        _ => return None,
    };
    let argument = |index: usize| statement.argument(index).and_then(word);
    let keyword_place = Spanned::new(keyword.to_owned(), statement.name.span);
    let (name, detail) = match kind {
        ItemKind::Copy => (argument(1), argument(0)),
        ItemKind::Winding if keyword != "winding" => (Some(keyword_place.clone()), argument(0)),
        _ => (argument(0), argument(1)),
    };
    let name = name.unwrap_or(keyword_place);
    let detail = detail.map(|detail| detail.value).filter(|detail| !detail.is_empty());
    Some(Item {
        detail: detail.map_or_else(|| keyword.to_owned(), |detail| format!("{keyword} {detail}")),
        name: if name.value.is_empty() { keyword.to_owned() } else { name.value },
        kind,
        whole: (statement.span.start, statement.span.end),
        named: (name.span.start.max(statement.span.start), name.span.end.min(statement.span.end)),
        children: statement.children.iter().filter_map(|child| item(child, Some(keyword))).collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stages_hold_their_parts_and_a_broken_line_costs_itself() {
        let found = outline(
            "design \"Line\"\nstage line {\n port in\n resistor R1 \"1k\" from=in to=ground\n}\nresistor \"\nfit line left in=a\n",
        );
        let names: Vec<&str> = found.iter().map(|item| item.name.as_str()).collect();
        assert_eq!(names, ["Line", "line", "resistor", "left"]);
        assert_eq!(found[1].children[0].name, "R1");
        assert_eq!(found[1].children[0].detail, "resistor 1k");
    }
}
