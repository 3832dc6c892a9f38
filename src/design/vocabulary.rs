//! What may be written where: the statements of each place, their properties, and how the value of each is written.
//!
//! Had by letting the readers read statements that say nothing, and listening to what they ask for.

use indexmap::IndexMap;

use crate::catalogue::Devices;
use crate::source::{FileId, Scalar, Span, Spanned, Statement};

use super::ledger::{Asked, Form, Ledger};
use super::reader::{ELSEWHERE, PARTS, TOP_ONLY, children_of, read_top};
use super::template::Context;

/// What may stand in one kind of statement.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Words {
    /// Its properties, in the order in which they are asked for.
    pub(crate) properties: IndexMap<&'static str, Form>,
    /// The statements that may stand inside it.
    pub(crate) children: Vec<String>,
}

/// All statements of a design. A statement inside another is known by both: `tube/heater`.
#[derive(Clone, Debug, Default)]
pub(crate) struct Vocabulary {
    statements: IndexMap<String, Words>,
}

impl Vocabulary {
    /// The words of a statement; `parent` is the statement around it, where that is a part.
    pub(crate) fn words(&self, parent: Option<&str>, statement: &str) -> Option<&Words> {
        parent
            .and_then(|parent| self.statements.get(&format!("{parent}/{statement}")))
            .or_else(|| self.statements.get(statement))
    }

    /// The statements that may stand at the top level, or in a stage.
    pub(crate) fn statements(in_stage: bool) -> impl Iterator<Item = &'static str> {
        let elsewhere = ELSEWHERE.into_iter().filter(move |word| in_stage || *word != "port");
        PARTS.into_iter().chain(elsewhere).chain(TOP_ONLY.into_iter().filter(move |_| !in_stage))
    }

    /// Whether a statement makes a part.
    pub(crate) fn is_part(statement: &str) -> bool {
        PARTS.contains(&statement)
    }

    /// The letters that the names of such parts begin with, as builders write them: `R`, `C`, `V`.
    pub(crate) fn letter(part: &str) -> Option<&'static str> {
        Some(match part {
            "resistor" => "R",
            "capacitor" => "C",
            "potentiometer" => "P",
            "choke" => "L",
            "tube" => "V",
            "fuse" => "F",
            "switch" => "S",
            "diode" | "zener" | "led" | "bridge" => "D",
            "bench-supply" => "B",
            "current-source" => "I",
            "mosfet" | "bjt" | "jfet" => "Q",
            "transformer" | "output-transformer" => "T",
            "inlet" => "J",
            _ => return None,
        })
    }
}

/// Listens to the readers of this catalogue's designs.
pub(crate) fn vocabulary(devices: &dyn Devices) -> Vocabulary {
    let mut names = Vec::new();
    let mut probes: Vec<Statement> = Vec::new();
    for keyword in PARTS.into_iter().chain(ELSEWHERE).chain(TOP_ONLY) {
        // What a tube may be told depends on its type.
        let types: Vec<Option<&str>> =
            if keyword == "tube" { devices.tube_names().into_iter().map(Some).collect() } else { vec![None] };
        for device in types {
            let mut probe = silent(keyword.to_owned(), &mut names);
            if let Some(device) = device {
                let word = |text: &str| Spanned::new(Scalar::Text(text.to_owned()), probe.span);
                probe.arguments = vec![word("V"), word(device)];
            }
            for child in children_of(keyword).iter().chain(&["waive"]) {
                let mut inner = silent(format!("{keyword}/{child}"), &mut names);
                inner.name.value = (*child).to_owned();
                probe.children.push(inner);
            }
            probes.push(probe);
        }
    }
    let ledger = Ledger::listening();
    read_top(&probes, &Context { devices, complaints: &ledger });
    let mut statements: IndexMap<String, Words> = IndexMap::new();
    for asked in ledger.into_asked() {
        match asked {
            Asked::Property(index, property, form) => {
                let Some(name) = names.get(index) else { continue };
                let known =
                    statements.entry(name.clone()).or_default().properties.entry(property).or_insert(Form::Other);
                if form != Form::Other {
                    *known = form;
                }
            }
            Asked::Children(index, children) => {
                let Some(name) = names.get(index) else { continue };
                statements.entry(name.clone()).or_default().children = children;
            }
        }
    }
    if let Some(stage) = statements.get_mut("stage") {
        stage.children.clear();
    }
    Vocabulary { statements }
}

/// A statement that says nothing; it begins at the place that its name has in `names`.
fn silent(name: String, names: &mut Vec<String>) -> Statement {
    let span = Span::new(FileId(0), names.len(), names.len());
    names.push(name.clone());
    Statement {
        name: Spanned::new(name, span),
        arguments: Vec::new(),
        properties: Vec::new(),
        children: Vec::new(),
        span,
        broken: true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::units::Dimension;

    #[test]
    fn the_readers_tell_what_a_statement_may_have() {
        let words = vocabulary(Catalogue::built_in());
        let resistor = words.words(None, "resistor").unwrap();
        assert_eq!(resistor.properties["from"], Form::Reference);
        assert_eq!(resistor.properties["power"], Form::Quantity(Dimension::POWER));
        assert!(matches!(&resistor.properties["kind"], Form::OneOf(kinds) if kinds.contains(&"wirewound".to_owned())));
        assert_eq!(resistor.children, ["waive"]);
        let of = |parent, statement: &str| -> Vec<&str> {
            words.words(parent, statement).unwrap().properties.keys().copied().collect()
        };
        assert_eq!(of(Some("tube"), "heater"), ["from", "to", "tap"]);
        assert!(of(Some("tube"), "model").contains(&"kg2") && of(Some("tube"), "model").contains(&"k"));
        assert!(of(Some("transformer"), "primary").contains(&"no-load"));
        assert!(!of(Some("output-transformer"), "primary").contains(&"no-load"));
        assert!(of(None, "waive").contains(&"part") && !of(Some("tube"), "waive").contains(&"part"));
    }
}
