//! Noise at each output and referred to its input.

use crate::design::Kind;
use crate::physics::noise;
use crate::units::Hertz;

use super::SubjectKind;
use super::memory::NoiseProblem;
use super::recorder::Recorder;
use super::signal::heard_input;
use super::small::{MIDDLE, Small, assumptions, ports};

/// Frequency at which the flicker noise of a tube equals its other noise: measured tubes lie between some hundreds of
/// hertz and ten kilohertz.
const FLICKER_CORNER: Hertz = Hertz(2000.0);

pub(super) fn record(recorder: &mut Recorder<'_>, small: &[Small]) {
    let study = recorder.study;
    let mut assumed = assumptions(study);
    assumed.push(format!("flicker noise of tubes taken to equal their shot noise at {} Hz", FLICKER_CORNER.0));
    let sources = study.design.parts.iter().filter(|part| matches!(part.kind, Kind::CurrentSource(_)));
    assumed.extend(sources.map(|part| format!("{} taken to make no noise, as an ideal current source", part.name)));
    let inputs = ports(study, |kind| matches!(kind, Kind::Input(_)));
    let outputs = ports(study, |kind| matches!(kind, Kind::Output(_)));
    let mut heard = Vec::new();
    for each in small {
        // An output that is nowhere in the network of a line-up has no noise there.
        let nodes: Vec<_> = outputs.iter().map(|port| each.nodes(port)).collect();
        let there: Vec<_> = nodes.iter().flatten().copied().collect();
        let problem = || NoiseProblem {
            network: each.lowered.network.clone(),
            point: each.point.clone(),
            outputs: there.clone(),
        };
        let solve = || noise(&each.linear, &each.point, &there, FLICKER_CORNER);
        let mut found = study.memory.recall(|memory| &memory.noises, problem, solve).into_iter();
        heard.push(nodes.into_iter().map(|nodes| Some((nodes?, found.next()?.ok()?))).collect::<Vec<_>>());
    }
    for (place, port) in outputs.iter().enumerate() {
        let part = study.design.part(port.id);
        let (Kind::Output(output), Some(subject)) = (&part.kind, recorder.find(SubjectKind::Output, &part.name)) else {
            continue;
        };
        let (mut plain, mut weighted, mut referred) = (Vec::new(), Vec::new(), Vec::new());
        for (each, heard) in small.iter().zip(&heard) {
            let Some((nodes, found)) = heard[place] else { continue };
            plain.push(each.sample(found.plain));
            weighted.push(each.sample(found.weighted));
            let gain = heard_input(study, each, output, &inputs, nodes)
                .and_then(|(_, element)| each.response(element, nodes, MIDDLE));
            if let Some(gain) = gain.filter(|gain| *gain > 0.0) {
                referred.push(each.sample(found.plain / gain));
            }
        }
        if plain.is_empty() {
            recorder.failure(subject, "noise", "the noise there could not be computed");
        }
        let origins = recorder.terminal_origin(port.id, "hot");
        for (fact, samples) in [("noise", plain), ("noise-a-weighted", weighted), ("input-noise", referred)] {
            recorder.samples_assuming(subject, fact, samples, origins.clone(), &assumed);
        }
    }
}
