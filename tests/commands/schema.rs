//! The schemas, and documents held against them.

use coldcheck::report::{facts_as_json, facts_schema, report_as_json, report_schema};
use serde_json::Value;

use super::fixtures::{facts, line_stage};

#[test]
fn the_report_keeps_to_its_schema() {
    let document = line_stage().with_outcome(report_as_json);
    assert_eq!(faults(&report_schema(), &document), Vec::<String>::new());
}

#[test]
fn the_facts_keep_to_their_schema() {
    let (sources, table) = facts();
    let document = facts_as_json("line.kdl".as_ref(), "Line", &table, None, &[], &sources);
    assert_eq!(faults(&facts_schema(), &document), Vec::<String>::new());
}

#[test]
fn a_document_that_strays_is_caught() {
    let document = line_stage().with_outcome(report_as_json);
    for (from, to) in [
        ("\"version\": 1", "\"version\": \"1\""),
        ("\"hazard\": 2", "\"perils\": 2"),
        ("\"class\": \"hazard\"", "\"class\": \"mishap\""),
        ("\"column\": ", "\"column\": -"),
    ] {
        assert!(document.contains(from), "{from}");
        let strayed = document.replacen(from, to, 1);
        assert!(!faults(&report_schema(), &strayed).is_empty(), "{to}");
    }
}

#[test]
fn the_schema_of_the_report() {
    insta::assert_snapshot!(report_schema());
}

#[test]
fn the_schema_of_the_facts() {
    insta::assert_snapshot!(facts_schema());
}

/// Holds a document against a schema, of which it knows what the schemas here use (JSON Schema 2020-12), and is
/// stricter in one thing: a key that the schema does not name is a fault.
pub fn faults(schema: &str, document: &str) -> Vec<String> {
    let schema: Value = serde_json::from_str(schema).unwrap();
    let document: Value = serde_json::from_str(document).unwrap();
    let mut faults = Vec::new();
    check(&schema, &schema, &document, "", &mut faults);
    faults
}

fn check(root: &Value, schema: &Value, value: &Value, at: &str, faults: &mut Vec<String>) {
    let Some(rules) = schema.as_object() else {
        return;
    };
    if let Some(reference) = rules.get("$ref").and_then(Value::as_str) {
        let target = root.pointer(reference.trim_start_matches('#')).unwrap();
        check(root, target, value, at, faults);
    }
    for key in ["anyOf", "oneOf"] {
        if let Some(choices) = rules.get(key).and_then(Value::as_array) {
            let fits = choices.iter().any(|choice| {
                let mut inner = Vec::new();
                check(root, choice, value, at, &mut inner);
                inner.is_empty()
            });
            if !fits {
                faults.push(format!("{at}: none of {key} fits {value}"));
            }
        }
    }
    if let Some(wanted) = rules.get("type") {
        let named = |word: &Value| match word.as_str().unwrap() {
            "object" => value.is_object(),
            "array" => value.is_array(),
            "string" => value.is_string(),
            "boolean" => value.is_boolean(),
            "integer" => value.is_i64() || value.is_u64(),
            "number" => value.is_number(),
            "null" => value.is_null(),
            other => panic!("the check does not know the type {other}"),
        };
        let fits = match wanted {
            Value::Array(words) => words.iter().any(named),
            word => named(word),
        };
        if !fits {
            faults.push(format!("{at}: {value} is no {wanted}"));
        }
    }
    if let Some(words) = rules.get("enum").and_then(Value::as_array)
        && !words.contains(value)
    {
        faults.push(format!("{at}: {value} is none of {words:?}"));
    }
    if rules.get("const").is_some_and(|only| only != value) {
        faults.push(format!("{at}: {value} is not the constant"));
    }
    if let (Some(least), Some(number)) = (rules.get("minimum").and_then(Value::as_f64), value.as_f64())
        && number < least
    {
        faults.push(format!("{at}: {number} is below {least}"));
    }
    if let (Some(inner), Some(items)) = (rules.get("items"), value.as_array()) {
        for (index, item) in items.iter().enumerate() {
            check(root, inner, item, &format!("{at}/{index}"), faults);
        }
    }
    if let Some(object) =
        value.as_object().filter(|_| rules.contains_key("properties") || rules.contains_key("additionalProperties"))
    {
        let named = rules.get("properties").and_then(Value::as_object);
        for (key, inner) in object {
            let at = format!("{at}/{key}");
            match named.and_then(|named| named.get(key)).or_else(|| rules.get("additionalProperties")) {
                Some(schema) => check(root, schema, inner, &at, faults),
                None => faults.push(format!("{at}: not in the schema")),
            }
        }
    }
    if let (Some(keys), Some(object)) = (rules.get("required").and_then(Value::as_array), value.as_object()) {
        for key in keys.iter().filter_map(Value::as_str) {
            if !object.contains_key(key) {
                faults.push(format!("{at}: {key} is missing"));
            }
        }
    }
}
