//! As much of JSON Schema as the schemas of this project use.

use serde_json::Value;

/// Panics where `value` breaks `fixtures/schema/NAME.schema.json`, naming the place.
pub(crate) fn check(name: &str, value: &Value) {
    let path = format!("{}/fixtures/schema/{name}.schema.json", env!("CARGO_MANIFEST_DIR"));
    let schema: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    check_rule(&schema, &schema, value, name);
}

fn check_rule(root: &Value, rule: &Value, value: &Value, place: &str) {
    if let Some(name) = rule["$ref"].as_str() {
        let name = name.trim_start_matches("#/$defs/");
        return check_rule(root, &root["$defs"][name], value, place);
    }
    if let Some(choices) = rule["enum"].as_array() {
        assert!(choices.contains(value), "{place}: {value} is none of {choices:?}");
    }
    if let Some(kinds) = rule["type"].as_array() {
        let fits = kinds.iter().any(|kind| is(kind.as_str().unwrap(), value));
        assert!(fits, "{place}: {value} is none of {kinds:?}");
    } else if let Some(kind) = rule["type"].as_str() {
        assert!(is(kind, value), "{place}: {value} is no {kind}");
    }
    if value.is_null() {
        return;
    }
    if let Some(properties) = rule["properties"].as_object() {
        let object = value.as_object().unwrap();
        for (name, inner) in object {
            let rule = properties.get(name);
            let rule = rule.unwrap_or_else(|| panic!("{place}.{name}: not in the schema"));
            check_rule(root, rule, inner, &format!("{place}.{name}"));
        }
        for name in rule["required"].as_array().unwrap() {
            assert!(object.contains_key(name.as_str().unwrap()), "{place}: lacks {name}");
        }
    }
    if let (Some(items), Some(list)) = (rule.get("items"), value.as_array()) {
        for (index, item) in list.iter().enumerate() {
            check_rule(root, items, item, &format!("{place}[{index}]"));
        }
    }
}

fn is(kind: &str, value: &Value) -> bool {
    match kind {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.is_u64() || value.is_i64(),
        "boolean" => value.is_boolean(),
        "null" => value.is_null(),
        _ => false,
    }
}
