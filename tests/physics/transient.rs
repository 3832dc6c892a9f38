//! Switch-on against a stiff integration of the same equations.

use crate::cases::{Worst, cases, numbers};
use coldcheck::physics::{Element, Following, Switching};
use coldcheck::units::{Hertz, Seconds};

#[test]
fn crests_and_their_instants_agree_with_an_independent_integration() {
    let (mut crest, mut instant) = (Worst::default(), Worst::default());
    for case in cases("transient") {
        let number = |key: &str| case.given[key].as_f64().unwrap();
        let found = Switching::new(&case.network, Hertz(number("frequency")), 160)
            .and_then(|ready| ready.follow(number("angle"), Seconds(number("duration")), Following::default()))
            .unwrap();
        let expected = numbers(&case.expected["maximum"]);
        let at = numbers(&case.expected["maximum_at"]);
        // What charges a capacitor is judged by its crest; the bare end of a choke spikes as its current is cut off.
        let charged = case.network.elements.iter().filter_map(|element| match element {
            Element::Capacitor { a, .. } => Some(a.0),
            _ => None,
        });
        for node in charged {
            let place = format!("{}, node {node}", case.name);
            crest.compare(&place, found.nodes[node].maximum, expected[node], expected[node]);
            instant.compare(&place, found.nodes[node].maximum_at.0, at[node], 0.02);
        }
    }
    crest.demand("transient crest", 0.005);
    // Within a tenth of a period of the mains.
    instant.demand("instant of the crest, in periods", 0.1);
}
