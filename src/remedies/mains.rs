//! A fuse put where it belongs: in the live lead, before everything else.

use crate::design::{Kind, word};
use crate::findings::Edit;
use crate::source::{Span, Statement, parse};

use super::Candidate;
use super::bench::{Bench, quoted};
use super::parts::references;

impl Bench<'_> {
    /// The fuse taken out of where it stands, its two nets made one there, and put behind the live pin of the inlet.
    pub(super) fn fuse_first(&self) -> Vec<Candidate> {
        let Some(design) = self.drawn.design else { return Vec::new() };
        let Some((fuse, scope)) = self.part_statement() else { return Vec::new() };
        let inlet = design.parts.iter().find(|part| matches!(part.kind, Kind::Inlet(_)));
        // A mains side spread over a stage or another file is left to the builder.
        let file = fuse.span.file;
        let Some(inlet) = inlet.filter(|inlet| scope.is_none() && inlet.span.file == file) else { return Vec::new() };
        let (statements, _) = parse(self.drawn.sources, file);
        let Some(inlet) = statements.iter().find(|one| one.span == inlet.span) else { return Vec::new() };
        let net = |statement: &Statement, end: &str| word(&statement.property(end)?.value);
        let (Some(live), Some(from), Some(to)) = (net(inlet, "live"), net(&fuse, "from"), net(&fuse, "to")) else {
            return Vec::new();
        };
        let within = |span: Span, one: &Statement| one.span.start <= span.start && span.end <= one.span.end;
        let behind = self.free_net(&scope, &format!("{}-fused", live.value));
        // What stays of the fuse's two nets is the one towards the inlet.
        let near = |name: &str| {
            let mut found = false;
            references(std::slice::from_ref(inlet), name, &mut |_| found = true);
            found
        };
        let (kept, dropped) = if near(&to.value) { (&to.value, &from.value) } else { (&from.value, &to.value) };
        if near(dropped) {
            return Vec::new();
        }
        let kept = if *kept == live.value { &behind } else { kept };
        let mut edits: Vec<Edit> = Vec::new();
        for (old, new) in [(&live.value, &behind), (dropped, kept)] {
            references(&statements, old, &mut |span| {
                if !within(span, inlet) && !within(span, &fuse) {
                    edits.push(Self::replace(span, quoted(new)));
                }
            });
        }
        let ends = ["from", "to"].map(|end| fuse.property(end).map(|property| property.value.span));
        let [Some(first), Some(second)] = ends else { return Vec::new() };
        edits.push(Self::replace(first, quoted(&live.value)));
        edits.push(Self::replace(second, quoted(&behind)));
        vec![Self::one(format!("move {} into the live lead, behind the inlet", self.finding.part), "", edits)]
    }
}
