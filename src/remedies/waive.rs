//! A finding accepted instead of mended: a waiver at the part, or at the end of the design.

use crate::findings::Finding;
use crate::source::Statement;

use super::bench::{Bench, Drawn, quoted};
use super::{Candidate, Edit};

/// The ways to waive a finding, nearest to the part first. The reason is left empty: until the builder gives one, the
/// waiver is complained of and the finding stands.
pub(crate) fn waivers(finding: &Finding, drawn: Drawn<'_>) -> Vec<Candidate> {
    Bench::new(finding, drawn).waive()
}

impl Bench<'_> {
    fn waive(&self) -> Vec<Candidate> {
        let rule = &self.finding.rule;
        let title = format!("waive {rule} for {}, and say why", self.finding.part);
        let waiver = |edits| Self::one(title.clone(), "", edits);
        let mut found = Vec::new();
        if let Some((statement, _)) = self.part_statement() {
            found.push(waiver(vec![self.inside(&statement, &format!("waive \"{rule}\" because=\"\""))]));
        }
        if let Some(design) = self.drawn.design {
            let text = self.text(design.file);
            let part = match self.finding.part.as_str() {
                "design" => String::new(),
                part => format!(" part={}", quoted(part)),
            };
            let newline = if text.is_empty() || text.ends_with(['\n', '\r']) { "" } else { "\n" };
            let line = format!("{newline}waive \"{rule}\"{part} because=\"\"\n");
            found.push(waiver(vec![Self::insert(design.file, text.len(), line)]));
        }
        found
    }

    /// A statement put inside another, as its last child.
    fn inside(&self, statement: &Statement, child: &str) -> Edit {
        let text = self.drawn.sources.text(statement.span);
        let file = statement.span.file;
        let Some(body) = text.strip_suffix('}') else {
            return Self::insert(file, statement.span.end, format!(" {{ {child}; }}"));
        };
        let trimmed = body.trim_end_matches([' ', '\t']);
        let at = statement.span.start + trimmed.len();
        if trimmed.ends_with('\n') {
            let closing = body.get(trimmed.len()..).unwrap_or("");
            return Self::insert(file, at, format!("{closing}    {child}\n"));
        }
        let mark = if trimmed.ends_with(['{', ';']) { " " } else { "; " };
        Self::insert(file, at, format!("{mark}{child};"))
    }
}
