use crate::cases::cases;
use coldcheck::physics::{SteadyOptions, steady_state};
use coldcheck::units::Hertz;
#[test]
fn timing() {
    for case in cases("steady") {
        let f = Hertz(case.given["frequency"].as_f64().unwrap());
        for whole in [false, true] {
            let t = std::time::Instant::now();
            let mut p = 0;
            for _ in 0..10 {
                let s = steady_state(
                    &case.network,
                    f,
                    SteadyOptions {
                        whole,
                        ..Default::default()
                    },
                )
                .unwrap();
                p = s.periods;
            }
            println!(
                "TIME {} whole={whole} {:?} periods {p}",
                case.name,
                t.elapsed() / 10
            );
        }
    }
}

use crate::build::*;
use coldcheck::catalogue::TriodeModel;
use coldcheck::physics::*;
#[test]
fn big() {
    for stages in [2usize, 10, 40, 100] {
        let mut e = vec![
            winding(1, 0, 250.0, 80.0),
            winding(0, 2, 250.0, 80.0),
            silicon(1, 3),
            silicon(2, 3),
            capacitor(3, 0, 100e-6),
            resistor(3, 4, 100.0 / stages as f64),
            capacitor(4, 0, 100e-6),
        ];
        let mut n = 5;
        for s in 0..stages {
            if s % 4 == 0 {
                e.push(resistor(4, n, 10e3));
                e.push(capacitor(n, 0, 22e-6));
                n += 1;
            }
            let b = n - 1 - (if s % 4 == 0 { 0 } else { (s % 4) * 5 });
            let (p, g, k, o, gi) = (n, n + 1, n + 2, n + 3, n + 4);
            n += 5;
            e.push(resistor(b, p, 100e3));
            e.push(Element::Triode {
                plate: NodeId(p),
                grid: NodeId(g),
                cathode: NodeId(k),
                model: TriodeModel {
                    mu: 100.0,
                    x: 1.4,
                    kg1: 1060.0,
                    kp: 600.0,
                    kvb: 300.0,
                    rgi: Some(2000.0),
                },
            });
            e.push(resistor(k, 0, 1500.0));
            e.push(capacitor(k, 0, 100e-6));
            e.push(resistor(gi, g, 1e3));
            e.push(resistor(gi, 0, 1e6));
            e.push(capacitor(p, o, 100e-9));
            e.push(resistor(o, 0, 470e3));
        }
        let net = network(e);
        let t = std::time::Instant::now();
        let s = steady_state(&net, Hertz(50.0), SteadyOptions::default()).unwrap();
        println!(
            "TIME stages {stages} nodes {} steady {:?} periods {} {}",
            net.nodes,
            t.elapsed(),
            s.periods,
            s.nodes[4].mean
        );
        let t = std::time::Instant::now();
        let op = operating_point(&net, None).unwrap();
        println!("TIME op {:?} {}", t.elapsed(), op.iterations);
        let t = std::time::Instant::now();
        let l = linearise(&net, &s.mean).unwrap();
        let _ = l.impedance(NodeId(4), NodeId(0), Hertz(100.0), None);
        println!("TIME linear {:?}", t.elapsed());
        let cold = Network {
            nodes: net.nodes,
            elements: net
                .elements
                .iter()
                .filter(|e| !matches!(e, Element::Triode { .. }))
                .copied()
                .collect(),
        };
        let t = std::time::Instant::now();
        let d = discharge(
            &cold,
            &s.mean.voltages,
            coldcheck::units::Volts(50.0),
            coldcheck::units::Seconds(1e5),
        )
        .unwrap();
        println!("TIME discharge {:?} {}", t.elapsed(), d.instants.len());
        let t = std::time::Instant::now();
        let d = transient(
            &cold,
            SwitchOn {
                frequency: Hertz(50.0),
                angle: 0.0,
                duration: coldcheck::units::Seconds(2.0),
            },
        )
        .unwrap();
        println!("TIME transient {:?} {}", t.elapsed(), d.instants.len());
    }
}
