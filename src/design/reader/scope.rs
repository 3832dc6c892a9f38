//! The top level and the stages: which statement may stand where, and which names are taken.

use std::collections::HashMap;

use indexmap::IndexMap;

use crate::source::{Complaint, Span, Spanned, Statement};

use super::statements::{self, AUDIO_BAND, Heading};
use super::{PARTS, read_part};
use crate::design::fields::Fields;
use crate::design::suggest::{any_of, nearest};
use crate::design::template::{Context, RESERVED_NETS, Scope, Stage};
use crate::design::{Band, Kind, Mains};

/// Everything of a design before it is unfolded.
pub(in crate::design) struct Top {
    pub(in crate::design) title: Option<Spanned<String>>,
    pub(in crate::design) revision: Option<String>,
    pub(in crate::design) author: Option<String>,
    pub(in crate::design) notes: Vec<String>,
    pub(in crate::design) mains: Option<Mains>,
    pub(in crate::design) band: Band,
    pub(in crate::design) stages: IndexMap<String, Stage>,
    pub(in crate::design) scope: Scope,
}

pub(in crate::design) const ELSEWHERE: [&str; 7] = ["wire", "reading", "waive", "unused", "fit", "include", "port"];
pub(in crate::design) const TOP_ONLY: [&str; 4] = ["design", "mains", "band", "stage"];

/// Reads the statements of a whole design, includes already in their place.
pub(in crate::design) fn read_top(statements: &[Statement], context: &Context<'_>) -> Top {
    let mut top = Top {
        title: None,
        revision: None,
        author: None,
        notes: Vec::new(),
        mains: None,
        band: Band { from: AUDIO_BAND.0, to: AUDIO_BAND.1, span: None },
        stages: IndexMap::new(),
        scope: Scope::default(),
    };
    let mut seen: HashMap<&str, Span> = HashMap::new();
    let mut rest = Vec::new();
    for statement in statements {
        let name = statement.name.value.as_str();
        match name {
            "design" | "mains" | "band" => {
                if let Some(first) = seen.get(name) {
                    complain(
                        context,
                        Complaint::at(
                            statement.name.span,
                            match name {
                                "design" => "one file describes one design",
                                "mains" => "a design has one mains",
                                _ => "a design has one band",
                            },
                            format!("a second `{name}` statement"),
                        )
                        .also(*first, "the first is here"),
                    );
                    continue;
                }
                seen.insert(name, statement.name.span);
                match name {
                    "design" => top.head(statements::heading(statement, context)),
                    "mains" => {
                        top.mains = statements::read_mains(statement, context.complaints);
                    }
                    _ => top.band = statements::band(statement, context),
                }
            }
            "stage" => read_stage(statement, &mut top.stages, context),
            _ => rest.push(statement),
        }
    }
    top.scope = read_scope(&rest, false, context);
    top
}

impl Top {
    fn head(&mut self, heading: Heading) {
        let mut title = heading.title;
        if title.value.is_empty() {
            title.span = heading.keyword;
        }
        self.title = Some(title);
        self.revision = heading.revision;
        self.author = heading.author;
        self.notes = heading.notes;
    }
}

fn complain(context: &Context<'_>, complaint: Complaint) {
    context.complaints.borrow_mut().push(complaint);
}

fn read_stage(statement: &Statement, stages: &mut IndexMap<String, Stage>, context: &Context<'_>) {
    let mut fields = Fields::new(statement, context.complaints);
    let name = fields.name("a name", "stage line { port in out; … }");
    for surplus in fields.rest() {
        fields.complain(
            Complaint::at(surplus.span, "`stage` takes no further value", "not expected here")
                .help("ports are named inside the stage: `port in out supply`"),
        );
    }
    for property in &statement.properties {
        fields.complain(
            Complaint::at(
                property.name.span,
                format!("`stage` has no property `{}`", property.name.value),
                "not known here",
            )
            .help("ports are named inside the stage: `port in out supply`"),
        );
    }
    let children: Vec<&Statement> = statement.children.iter().collect();
    let scope = read_scope(&children, true, context);
    let Some(name) = name else { return };
    if let Some(first) = stages.get(&name.value) {
        complain(
            context,
            Complaint::at(name.span, format!("two stages are called `{}`", name.value), "named again here")
                .also(first.name.span, "first named here"),
        );
        return;
    }
    stages.insert(name.value.clone(), Stage { name, scope });
}

fn read_scope(statements: &[&Statement], in_stage: bool, context: &Context<'_>) -> Scope {
    let mut scope = Scope::default();
    let mut unused = Vec::new();
    for statement in statements {
        match statement.name.value.as_str() {
            name if PARTS.contains(&name) => {
                let read = read_part(statement, context);
                let Some(name) = read.name else { continue };
                if taken(&mut scope, &name, context) {
                    continue;
                }
                match read.part {
                    Some(part) => scope.parts.push(part),
                    None => {
                        scope.lost.insert(name.value);
                    }
                }
            }
            "wire" => scope.wires.extend(statements::wire(statement, context)),
            "reading" => scope.readings.extend(statements::reading(statement, context)),
            "waive" => scope.waivers.extend(statements::waiver(statement, false, context)),
            "fit" => {
                let (name, fit) = statements::fit(statement, context);
                let Some(name) = name else { continue };
                if taken(&mut scope, &name, context) {
                    continue;
                }
                match fit {
                    Some(fit) => scope.fits.push(fit),
                    None => {
                        scope.lost.insert(name.value);
                    }
                }
            }
            "unused" => unused.push(*statement),
            "port" if in_stage => read_ports(statement, &mut scope, context),
            // Includes were put in place before; one that is still here has its complaint.
            "include" => {}
            _ => complain(context, misplaced(statement, in_stage)),
        }
    }
    section_names(&scope, context);
    port_names(&scope, context);
    for statement in unused {
        mark_unused(statement, &mut scope, context);
    }
    scope.note_nets();
    scope
}

fn misplaced(statement: &Statement, in_stage: bool) -> Complaint {
    let name = &statement.name.value;
    let span = statement.name.span;
    if in_stage && TOP_ONLY.contains(&name.as_str()) {
        return Complaint::at(span, format!("`{name}` does not belong inside a stage"), "belongs at the top level");
    }
    if name == "port" {
        return Complaint::at(span, "`port` belongs inside a stage", "there is no stage around this");
    }
    let known = PARTS.iter().chain(&ELSEWHERE).chain(if in_stage { &[][..] } else { &TOP_ONLY[..] });
    let complaint = Complaint::at(span, format!("`{name}` is not a statement of a design"), "not known");
    match nearest(name, known.copied()) {
        Some(near) => complaint.help(format!("did you mean `{near}`?")),
        None => complaint,
    }
}

/// Whether a name is taken already, with a complaint; else it is now.
fn taken(scope: &mut Scope, name: &Spanned<String>, context: &Context<'_>) -> bool {
    if RESERVED_NETS.contains(&name.value.as_str()) {
        complain(
            context,
            Complaint::at(
                name.span,
                format!("`{}` is a net that every design has", name.value),
                "give the part another name",
            ),
        );
        return true;
    }
    if let Some(first) = scope.names.get(&name.value) {
        complain(
            context,
            Complaint::at(name.span, format!("two parts are called `{}`", name.value), "named again here")
                .also(*first, "first named here"),
        );
        return true;
    }
    scope.names.insert(name.value.clone(), name.span);
    false
}

/// A part may not be called what a section of a tube is called: `V1a` beside a double triode `V1`.
fn section_names(scope: &Scope, context: &Context<'_>) {
    for part in &scope.parts {
        let Kind::Tube(tube) = &part.body.kind else {
            continue;
        };
        for section in tube.sections.iter().filter(|s| !s.suffix.is_empty()) {
            let label = format!("{}{}", part.name.value, section.suffix);
            if let Some(other) = scope.names.get(&label) {
                complain(
                    context,
                    Complaint::at(
                        *other,
                        format!("`{label}` is already a section of the tube `{}`", part.name.value),
                        "give this another name",
                    )
                    .also(part.name.span, "the tube is here"),
                );
            }
        }
    }
}

/// A port hides a part of its name, so both under one name cannot be meant.
fn port_names(scope: &Scope, context: &Context<'_>) {
    for port in &scope.ports {
        if let Some(part) = scope.names.get(&port.value) {
            complain(
                context,
                Complaint::at(
                    *part,
                    format!("`{}` is already a port of this stage", port.value),
                    "give this another name",
                )
                .also(port.span, "the port is here"),
            );
        }
    }
}

fn read_ports(statement: &Statement, scope: &mut Scope, context: &Context<'_>) {
    let mut fields = Fields::new(statement, context.complaints);
    let values = fields.rest();
    if values.is_empty() {
        fields.missing("a port", "port in out supply");
    }
    for value in values {
        let Some(name) = fields.word(value).and_then(|word| fields.good_name(word)) else {
            continue;
        };
        if RESERVED_NETS.contains(&name.value.as_str()) {
            fields.complain(Complaint::at(
                name.span,
                format!("`{}` is the same net everywhere", name.value),
                "needs no port",
            ));
        } else if let Some(first) = scope.ports.iter().find(|port| port.value == name.value) {
            fields.complain(
                Complaint::at(name.span, format!("two ports are called `{}`", name.value), "named again here")
                    .also(first.span, "first named here"),
            );
        } else {
            scope.ports.push(name);
        }
    }
    fields.finish(&[]);
}

/// `unused V1b` beside the tube.
fn mark_unused(statement: &Statement, scope: &mut Scope, context: &Context<'_>) {
    let mut fields = Fields::new(statement, context.complaints);
    let values = fields.rest();
    if values.is_empty() {
        fields.missing("a section of a tube", "unused V1b");
    }
    for word in values.iter().filter_map(|value| fields.word(value)) {
        if scope.lost.iter().any(|lost| word.value.starts_with(lost.as_str())) {
            continue;
        }
        let mut labels = Vec::new();
        let mut found = false;
        for part in &mut scope.parts {
            let Kind::Tube(tube) = &mut part.body.kind else {
                continue;
            };
            for section in &tube.sections {
                let label = format!("{}{}", part.name.value, section.suffix);
                if label == word.value {
                    found = true;
                    tube.unused.push(Spanned::new(section.suffix.clone(), word.span));
                }
                labels.push(label);
            }
        }
        if found {
            continue;
        }
        let complaint =
            Complaint::at(word.span, format!("`{}` is not a section of a tube here", word.value), "not known");
        let own: Vec<&String> = labels.iter().filter(|label| label.starts_with(&word.value)).collect();
        fields.complain(if !own.is_empty() {
            complaint.help(format!("its sections: {}", any_of(&own)))
        } else if let Some(near) = nearest(&word.value, labels.iter().map(String::as_str)) {
            complaint.help(format!("did you mean `{near}`?"))
        } else {
            complaint
        });
    }
    fields.finish(&[]);
}
