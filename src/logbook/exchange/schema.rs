//! The JSON Schema of a setup's document, generated from its types.

use super::SetupDocument;
use schemars::Schema;
use schemars::generate::SchemaSettings;
use schemars::transform::{Transform, transform_subschemas};
use serde_json::{Map, Value};

/// The JSON Schema (draft 2020-12) of a setup's document. A field that it does not know is an error.
#[must_use]
pub fn schema() -> Value {
    let settings = SchemaSettings::draft2020_12().with_transform(Closed);
    settings.into_generator().into_root_schema_for::<SetupDocument>().to_value()
}

/// Every object has the fields that are listed and no others. Where an object's fields come together from several places,
/// only the whole can say so: its parts are marked, and left as they are.
#[derive(Clone)]
struct Closed;

/// The keywords under which the parts of an object stand.
const GATHERED: [&str; 3] = ["oneOf", "anyOf", "allOf"];

/// The mark of a part; it is gone in the end.
const PART: &str = "part of a whole";

impl Transform for Closed {
    fn transform(&mut self, schema: &mut Schema) {
        if let Some(object) = schema.as_object_mut() {
            close(object);
        }
        transform_subschemas(self, schema);
    }
}

fn close(object: &mut Map<String, Value>) {
    let is_part = object.remove(PART).is_some();
    let is_object = object.contains_key("properties");
    if !is_part && !is_object {
        return;
    }
    object.remove("additionalProperties");
    let mut has_parts = false;
    for key in GATHERED {
        for part in object.get_mut(key).and_then(Value::as_array_mut).into_iter().flatten() {
            has_parts = true;
            if let Some(part) = part.as_object_mut() {
                part.insert(PART.to_owned(), true.into());
            }
        }
    }
    if !is_part {
        let keyword = if has_parts { "unevaluatedProperties" } else { "additionalProperties" };
        object.insert(keyword.to_owned(), false.into());
    }
}
