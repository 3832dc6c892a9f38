//! Holds a document against a JSON Schema. Knows what the schemas here use, of draft 7 and of 2020-12, and fails on any
//! keyword that it does not know; stricter in one thing: where properties are named, a key that is not is a fault.

use serde_json::{Map, Value};

/// Keywords that say nothing of a document.
const SILENT: [&str; 8] = ["$schema", "$id", "$defs", "definitions", "title", "description", "default", "readOnly"];

/// What is wrong with a document, each with its place.
pub fn faults(schema: &str, document: &str) -> Vec<String> {
    let schema: Value = serde_json::from_str(schema).unwrap();
    let document: Value = serde_json::from_str(document).unwrap();
    faults_of(&schema, &schema, &document, "")
}

fn faults_of(root: &Value, schema: &Value, value: &Value, at: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let rules = match schema {
        Value::Bool(true) => return faults,
        Value::Bool(false) => return vec![format!("{at}: not in the schema")],
        other => other.as_object().unwrap(),
    };
    for (keyword, rule) in rules {
        let within = |inner: &Value, value: &Value, at: &str| faults_of(root, inner, value, at);
        match keyword.as_str() {
            word if SILENT.contains(&word) => {}
            "$ref" => {
                let target = root.pointer(rule.as_str().unwrap().trim_start_matches('#')).unwrap();
                faults.extend(within(target, value, at));
            }
            "anyOf" | "oneOf" => {
                let fitting = choices(rule).filter(|choice| within(choice, value, at).is_empty()).count();
                if fitting == 0 || keyword == "oneOf" && fitting > 1 {
                    faults.push(format!("{at}: {fitting} of {keyword} fit {value}"));
                }
            }
            "items" => {
                for (index, item) in value.as_array().into_iter().flatten().enumerate() {
                    faults.extend(within(rule, item, &format!("{at}/{index}")));
                }
            }
            "properties" | "additionalProperties" => {}
            "required" => {
                for key in choices(rule).map(|key| key.as_str().unwrap()) {
                    if value.as_object().is_some_and(|object| !object.contains_key(key)) {
                        faults.push(format!("{at}: {key} is missing"));
                    }
                }
            }
            _ => {
                if !keeps(keyword, rule, value) {
                    faults.push(format!("{at}: {value} does not keep {keyword} {rule}"));
                }
            }
        }
    }
    if let Some(object) = value.as_object() {
        faults.extend(keys(root, rules, object, at));
    }
    faults
}

fn keys(root: &Value, rules: &Map<String, Value>, object: &Map<String, Value>, at: &str) -> Vec<String> {
    let (named, others) = (rules.get("properties"), rules.get("additionalProperties"));
    if named.is_none() && others.is_none() {
        return Vec::new();
    }
    object
        .iter()
        .flat_map(|(key, inner)| {
            let at = format!("{at}/{key}");
            match named.and_then(|named| named.get(key)).or(others) {
                Some(schema) => faults_of(root, schema, inner, &at),
                None => vec![format!("{at}: not in the schema")],
            }
        })
        .collect()
}

fn choices(rule: &Value) -> impl Iterator<Item = &Value> {
    rule.as_array().unwrap().iter()
}

/// A keyword that looks at one value alone. What is of another type keeps it.
fn keeps(keyword: &str, rule: &Value, value: &Value) -> bool {
    match keyword {
        "type" => match rule {
            Value::Array(words) => words.iter().any(|word| is_of(word, value)),
            word => is_of(word, value),
        },
        "enum" => rule.as_array().unwrap().contains(value),
        "const" => rule == value,
        "minimum" => value.as_f64().is_none_or(|number| number >= rule.as_f64().unwrap()),
        "maximum" => value.as_f64().is_none_or(|number| number <= rule.as_f64().unwrap()),
        "minItems" => value.as_array().is_none_or(|items| items.len() as u64 >= rule.as_u64().unwrap()),
        "uniqueItems" => value
            .as_array()
            .is_none_or(|items| items.iter().enumerate().all(|(index, item)| !items[..index].contains(item))),
        "format" => value.as_str().is_none_or(|text| has_format(rule.as_str().unwrap(), text)),
        "pattern" => value.as_str().is_none_or(|text| match rule.as_str().unwrap() {
            "[^/]+/.+" => text.split_once('/').is_some_and(|(a, b)| !a.is_empty() && !b.is_empty()),
            other => panic!("the check does not know the pattern {other}"),
        }),
        other => panic!("the check does not know the keyword {other}"),
    }
}

fn is_of(word: &Value, value: &Value) -> bool {
    match word.as_str().unwrap() {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "boolean" => value.is_boolean(),
        "integer" => value.is_i64() || value.is_u64(),
        "number" => value.is_number(),
        "null" => value.is_null(),
        other => panic!("the check does not know the type {other}"),
    }
}

fn has_format(format: &str, text: &str) -> bool {
    // RFC 3986: what a URI may be written with; a percent sign begins two hexadecimal digits.
    let plain = |c: char| c.is_ascii_alphanumeric() || "-._~:/?#[]@!$&'()*+,;=%".contains(c);
    let escapes =
        || text.split('%').skip(1).all(|rest| rest.chars().take(2).filter(char::is_ascii_hexdigit).count() == 2);
    match format {
        "uri-reference" => text.chars().all(plain) && escapes(),
        "uri" => text.chars().all(plain) && escapes() && text.contains(':'),
        "uint" | "uint32" | "double" => true,
        other => panic!("the check does not know the format {other}"),
    }
}
