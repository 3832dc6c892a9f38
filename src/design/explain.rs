//! What is said of a word that names nothing: the terminals that there are, the sections, the nearest spelling.

use crate::source::{Complaint, Spanned};

use super::resolve::Target;
use super::suggest::{any_of, nearest_name};
use super::unfold::Unfolded;
use super::{Kind, PartId};

/// A part where one of its terminals is wanted.
pub(super) fn whole_part(unfolded: &Unfolded<'_>, part: PartId, target: &Target, word: &Spanned<String>) -> Complaint {
    let (what, group) = match target {
        Target::Section(_, suffix) => ("a section of a tube", format!("{suffix}.")),
        _ => ("a part", String::new()),
    };
    let asked = labels(unfolded, part, &group, &word.value);
    Complaint::at(
        word.span,
        format!("`{}` is {what}, and a net or a terminal is wanted here", word.value),
        "which terminal of it?",
    )
    .help(format!("its terminals: {}", any_of(&asked)))
}

/// A terminal that a part does not have; `suffix` where a section was named.
pub(super) fn no_terminal(
    unfolded: &Unfolded<'_>,
    id: PartId,
    suffix: &str,
    rest: &str,
    word: &Spanned<String>,
) -> Complaint {
    let asked = word.value.strip_suffix(rest).map_or(word.value.as_str(), |asked| asked.trim_end_matches('.'));
    let several = if suffix.is_empty() { in_sections(unfolded, id, rest) } else { Vec::new() };
    if !several.is_empty() {
        return Complaint::at(
            word.span,
            format!("`{asked}` has several sections; which `{rest}` is meant?"),
            format!("say {}", any_of(&several)),
        );
    }
    let complaint = Complaint::at(word.span, format!("`{asked}` has no terminal `{rest}`"), "not a terminal of it");
    // Of a winding or a heater without its terminal, or with a wrong one, only its own are offered.
    let group = rest.split('.').next().unwrap_or(rest);
    let of_group = labels(unfolded, id, &format!("{group}."), asked);
    let offered = if of_group.is_empty() {
        let own = if suffix.is_empty() { String::new() } else { format!("{suffix}.") };
        labels(unfolded, id, &own, asked)
    } else {
        of_group
    };
    match nearest_name(&word.value, offered.iter().map(String::as_str)) {
        Some(near) => complaint.help(format!("did you mean `{near}`?")),
        None => complaint.help(format!("its terminals: {}", any_of(&offered))),
    }
}

/// The electrodes of a name in all sections of a tube.
fn in_sections(unfolded: &Unfolded<'_>, id: PartId, electrode: &str) -> Vec<String> {
    let Some(part) = unfolded.parts.get(id.0) else {
        return Vec::new();
    };
    let Kind::Tube(tube) = &part.kind else {
        return Vec::new();
    };
    tube.sections
        .iter()
        .filter(|section| !section.suffix.is_empty())
        .map(|section| format!("{}.{electrode}", section.suffix))
        .filter(|terminal| part.terminals.contains(terminal))
        .map(|terminal| part.terminal_label(&terminal))
        .collect()
}

/// The terminals of a part that begin with a group (`a.`, `ht.`, or nothing for all), written behind what was asked of:
/// `tube.plate` for a port, `T1.ht.start` for a winding. Of a tube with sections, all have their own names.
fn labels(unfolded: &Unfolded<'_>, id: PartId, group: &str, asked: &str) -> Vec<String> {
    let Some(part) = unfolded.parts.get(id.0) else {
        return Vec::new();
    };
    let sectioned = match &part.kind {
        Kind::Tube(tube) => tube.sections.iter().any(|section| !section.suffix.is_empty()),
        _ => false,
    };
    part.terminals
        .iter()
        .filter_map(|terminal| {
            let inner = terminal.strip_prefix(group)?;
            Some(if sectioned && group.is_empty() {
                part.terminal_label(terminal)
            } else if sectioned && group != "heater." {
                format!("{asked}.{inner}")
            } else {
                format!("{asked}.{terminal}")
            })
        })
        .collect()
}

/// A word with a dot whose beginning is no part.
pub(super) fn unknown(
    unfolded: &Unfolded<'_>,
    copy: usize,
    word: &Spanned<String>,
    first: &str,
    suggest: bool,
) -> Complaint {
    let complaint = Complaint::at(word.span, format!("there is no part called `{first}`"), "not a part of this design");
    if !suggest {
        return complaint;
    }
    let scopes = [copy, 0].map(|index| unfolded.copies.get(index).map(|copy| copy.scope));
    let mut names: Vec<String> = Vec::new();
    for scope in scopes.into_iter().flatten() {
        for part in &scope.parts {
            let name = &part.name.value;
            names.push(name.clone());
            let Kind::Tube(tube) = &part.body.kind else {
                continue;
            };
            let sections: Vec<String> = tube
                .sections
                .iter()
                .filter(|section| !section.suffix.is_empty())
                .map(|section| format!("{name}{}", section.suffix))
                .collect();
            let suffix = first.strip_prefix(name.as_str()).unwrap_or("");
            if suffix.len() == 1 && suffix.starts_with(char::is_alphabetic) {
                return if sections.is_empty() {
                    complaint.help(format!("the tube `{name}` has one section: write `{name}.…`"))
                } else {
                    complaint.help(format!("sections of `{name}`: {}", any_of(&sections)))
                };
            }
            names.extend(sections);
        }
        names.extend(scope.fits.iter().map(|fit| fit.name.value.clone()));
    }
    match nearest_name(first, names.iter().map(String::as_str)) {
        Some(near) => complaint.help(format!("did you mean `{near}`?")),
        None => complaint.help("a dot stands between a part and its terminal; a net's name has none"),
    }
}
