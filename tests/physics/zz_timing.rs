use crate::build::*;
use coldcheck::catalogue::*;
use coldcheck::physics::*;
use coldcheck::units::Hertz;
#[test]
fn probe() {
    let p = PentodeModel {
        mu: 11.0,
        x: 1.35,
        kg1: 650.0,
        kg2: 4200.0,
        kp: 60.0,
        kvb: 24.0,
        rgi: None,
    };
    let e = vec![
        winding(1, 0, 331.27926754597834, 174.986),
        resistor(1, 2, 10.0),
        vacuum(2, 3, 0.00104163),
        capacitor(3, 0, 0.0001241),
        choke(3, 4, 20.0788, 100.0),
        capacitor(4, 0, 8.027e-6),
        resistor(4, 5, 31.12),
        capacitor(5, 0, 1.69658e-5),
        resistor(5, 10, 220.0),
        resistor(5, 13, 1000.0),
        Element::Pentode {
            plate: NodeId(10),
            grid: NodeId(11),
            screen: NodeId(13),
            cathode: NodeId(12),
            model: p,
        },
        resistor(11, 0, 470e3),
        resistor(12, 0, 270.0),
        capacitor(12, 0, 100e-6),
    ];
    let net = network(e);
    for steps in [400, 1600] {
        for whole in [false, true] {
            let s = steady_state(
                &net,
                Hertz(50.0),
                SteadyOptions {
                    whole,
                    steps,
                    ..Default::default()
                },
            )
            .unwrap();
            for n in [3, 4, 5, 10, 12, 13] {
                let w = &s.waveforms[n];
                let mut line = String::new();
                for h in 1..5 {
                    let (mut c, mut d) = (0.0, 0.0);
                    for (i, v) in w.iter().enumerate() {
                        let a = std::f64::consts::TAU * (h * (i + 1)) as f64 / w.len() as f64;
                        c += v * a.cos();
                        d += v * a.sin();
                    }
                    line += &format!(" {:.6}", 2.0 * f64::hypot(c, d) / w.len() as f64);
                }
                println!(
                    "P whole={whole} {steps} node {n} pp {:.6} {line}",
                    s.nodes[n].peak_to_peak()
                );
            }
            let l = linearise(&net, &s.mean).unwrap();
            for h in 1..3 {
                println!(
                    "P transfer {h} {}",
                    l.transfer(
                        Drive::Between {
                            plus: NodeId(3),
                            minus: NodeId(0)
                        },
                        (NodeId(5), NodeId(0)),
                        Hertz(50.0 * h as f64)
                    )
                    .unwrap()
                    .norm()
                );
            }
        }
    }
}
