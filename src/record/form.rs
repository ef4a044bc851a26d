//! A head's description as a form: one text a field, as a person writes it. What is blank stays blank.

use super::head::{Head, LinkThread};
use crate::units::MOST_BLADES;
use serde::Serialize;
use std::collections::BTreeMap;
use toml::{Table, Value};

/// What is written into a field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum FieldKind {
    /// Any text.
    Text,
    /// A whole number.
    Whole {
        /// The least.
        from: u8,
        /// The most.
        to: u8,
    },
    /// A number with its unit.
    Number {
        /// The unit.
        unit: &'static str,
    },
    /// One of these.
    Choice {
        /// As the description writes them.
        of: Vec<&'static str>,
    },
    /// Yes or no.
    Switch,
    /// A band such as `0 ± 0.5`, or a ceiling such as `at most 12`.
    Target,
}

/// What a field is about; those of one group stand together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Group {
    /// The rotor as a whole.
    Rotor,
    /// The pitch links.
    Link,
    /// The swashplate and its servos.
    Swash,
    /// The tail rotor.
    Tail,
    /// What is wanted.
    Targets,
}

/// One field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Field {
    /// Its place in the description, such as `link.pitch_arm_mm`.
    pub key: &'static str,
    /// What it is about.
    pub group: Group,
    /// What is written into it.
    #[serde(flatten)]
    pub kind: FieldKind,
    /// Whether nothing can be measured without it.
    pub needed: bool,
}

const fn field(key: &'static str, group: Group, kind: FieldKind) -> Field {
    Field { key, group, kind, needed: false }
}

const fn needed(key: &'static str, group: Group, kind: FieldKind) -> Field {
    Field { key, group, kind, needed: true }
}

/// Every field, in the order in which it is asked.
#[must_use]
pub fn fields() -> Vec<Field> {
    use FieldKind::{Number, Switch, Target, Text, Whole};
    use Group::{Link, Rotor, Swash, Tail, Targets};
    let choice = |of: &[&'static str]| FieldKind::Choice { of: of.to_vec() };
    let thread = || choice(&["M2", "M2.5", "M3"]);
    let seats = || choice(&["half turn", "full turn"]);
    let (mm, degrees) = (|| Number { unit: "mm" }, || Number { unit: "°" });
    let blades = || Whole { from: 2, to: MOST_BLADES as u8 };
    let mut all = vec![
        needed("name", Rotor, Text),
        needed("rotation", Rotor, choice(&["clockwise", "anticlockwise"])),
        needed("blades", Rotor, blades()),
        field("control_phase_deg", Rotor, degrees()),
        field("station_error_deg", Rotor, degrees()),
        needed(concat!("link.", "pitch_arm_mm"), Link, mm()),
        needed("link.thread", Link, thread()),
        needed("link.seats", Link, seats()),
        field("link.turnbuckle", Link, Switch),
        field("link.lengthening", Link, choice(&["raises", "lowers"])),
        field(concat!("link.", "square_at_deg"), Link, degrees()),
        field(concat!("swash.", "servo_radius_mm"), Swash, mm()),
        field(concat!("swash.", "link_radius_mm"), Swash, mm()),
        field("swash.thread", Swash, thread()),
        field("swash.horn_mm", Swash, mm()),
        field("swash.lead_deg", Swash, degrees()),
        field("swash.seats", Swash, seats()),
        field("swash.turnbuckle", Swash, Switch),
        needed("tail.blades", Tail, blades()),
        field("tail.positive", Tail, choice(&["left", "right"])),
        field("tail.servo", Tail, Whole { from: 1, to: 8 }),
    ];
    all.extend(TARGETS.iter().map(|key| field(key, Targets, Target)));
    all
}

const TARGETS: [&str; 19] = [
    "targets.blade_zero",
    "targets.track_split",
    "targets.cyclic",
    "targets.elevator_up",
    "targets.elevator_down",
    "targets.aileron_left",
    "targets.aileron_right",
    "targets.collective_low",
    "targets.collective_high",
    "targets.swash_level",
    "targets.tail",
    "targets.rudder_left",
    "targets.rudder_right",
    "targets.tail_neutral",
    "targets.tail_split",
    "targets.slop",
    "targets.droop",
    "targets.spindle",
    "targets.cable",
];

/// Fields of the swashplate that go together: one of them alone describes no plate.
const PLATE: [&str; 3] = [concat!("swash.", "servo_radius_mm"), concat!("swash.", "link_radius_mm"), "swash.thread"];

/// Why a field cannot stand as it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum FieldFault {
    /// It is blank, and nothing can be measured without it.
    Blank,
    /// It is blank, and the others of the swashplate are not.
    PlateNeedsIt,
    /// It is no number.
    NoNumber,
    /// The description refuses it.
    Refused {
        /// What it says of it.
        because: String,
    },
    /// There is no such field.
    Unknown,
}

/// The texts of a form by the keys of their fields.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, serde::Deserialize)]
#[serde(transparent)]
pub struct HeadForm(pub BTreeMap<String, String>);

impl HeadForm {
    /// A form filled in with a description; what that leaves open is blank.
    #[must_use]
    pub fn of(head: &Head) -> Self {
        let mut form = BTreeMap::new();
        let table = Table::try_from(head).unwrap_or_default();
        for (name, value) in &table {
            match value {
                Value::Table(part) => {
                    form.extend(part.iter().map(|(field, value)| (format!("{name}.{field}"), written(value))));
                }
                value => {
                    form.insert(name.clone(), written(value));
                }
            }
        }
        Self(form)
    }

    /// The description that it makes.
    ///
    /// # Errors
    /// Every field that cannot stand, with the reason.
    pub fn head(&self) -> Result<Head, Vec<(String, FieldFault)>> {
        let known = fields();
        let text = |key: &str| self.0.get(key).map_or("", |text| text.trim());
        let mut faults: Vec<(String, FieldFault)> = self
            .0
            .keys()
            .filter(|key| known.iter().all(|field| field.key != key.as_str()))
            .map(|key| (key.clone(), FieldFault::Unknown))
            .collect();
        let plate = known.iter().any(|field| field.group == Group::Swash && !text(field.key).is_empty());
        let mut table = Table::new();
        for field in &known {
            let said = text(field.key);
            if said.is_empty() {
                if field.needed {
                    faults.push((field.key.to_owned(), FieldFault::Blank));
                } else if plate && PLATE.contains(&field.key) {
                    faults.push((field.key.to_owned(), FieldFault::PlateNeedsIt));
                }
                continue;
            }
            match value(&field.kind, said) {
                Some(value) => match alone(field.key, &value) {
                    Ok(()) => put(&mut table, field.key, value),
                    Err(because) => faults.push((field.key.to_owned(), FieldFault::Refused { because })),
                },
                None => faults.push((field.key.to_owned(), FieldFault::NoNumber)),
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let refused = |error: toml::de::Error| {
            vec![("name".to_owned(), FieldFault::Refused { because: error.message().to_owned() })]
        };
        Value::Table(table).try_into().map_err(refused)
    }
}

/// A value of a description as it is written into a form.
fn written(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Boolean(true) => "yes".to_owned(),
        Value::Boolean(false) => "no".to_owned(),
        Value::Float(number) => number.to_string(),
        other => other.to_string(),
    }
}

/// What a text of this kind stands for; none where it is no number.
fn value(kind: &FieldKind, text: &str) -> Option<Value> {
    let number = text.replace(',', ".").replace('−', "-");
    match kind {
        FieldKind::Whole { .. } => number.parse().ok().map(Value::Integer),
        FieldKind::Number { .. } => number.parse().ok().filter(|value: &f64| value.is_finite()).map(Value::Float),
        FieldKind::Switch => Some(Value::Boolean(text == "yes")),
        FieldKind::Text | FieldKind::Choice { .. } | FieldKind::Target => Some(Value::String(text.to_owned())),
    }
}

fn put(table: &mut Table, key: &str, value: Value) {
    match key.split_once('.') {
        None => {
            table.insert(key.to_owned(), value);
        }
        Some((part, field)) => {
            if let Value::Table(part) = table.entry(part).or_insert_with(|| Value::Table(Table::new())) {
                part.insert(field.to_owned(), value);
            }
        }
    }
}

/// Whether a description that is sound otherwise would take this value: the description's own rules, a field at a time.
fn alone(key: &str, value: &Value) -> Result<(), String> {
    let mut table =
        Head::from_toml(&Head::template("x")).ok().and_then(|head| Table::try_from(head).ok()).unwrap_or_default();
    if key.starts_with("swash.") {
        for (field, sound) in PLATE.iter().zip([Value::Float(25.0), Value::Float(15.0), Value::String(M2.to_owned())]) {
            put(&mut table, field, sound);
        }
    }
    put(&mut table, key, value.clone());
    Value::Table(table).try_into::<Head>().map(|_| ()).map_err(|error| error.message().to_owned())
}

/// The thread of [`LinkThread::M2`] as a description writes it.
const M2: &str = match LinkThread::M2 {
    LinkThread::M2 => "M2",
    LinkThread::M2_5 => "M2.5",
    LinkThread::M3 => "M3",
};

#[cfg(test)]
mod tests {
    use super::*;

    fn filled() -> HeadForm {
        let all = [
            ("name", "Club trainer"),
            ("rotation", "clockwise"),
            ("blades", "2"),
            ("link.pitch_arm_mm", "20"),
            ("link.thread", "M2.5"),
            ("link.seats", "half turn"),
            ("tail.blades", "2"),
        ];
        HeadForm(all.into_iter().map(|(key, text)| (key.to_owned(), text.to_owned())).collect())
    }

    fn with(key: &str, text: &str) -> Result<Head, Vec<(String, FieldFault)>> {
        let mut form = filled();
        form.0.insert(key.to_owned(), text.to_owned());
        form.head()
    }

    #[test]
    fn what_is_blank_stays_blank() {
        let head = filled().head().unwrap();
        assert_eq!((head.link.lengthening, head.tail.positive, head.swash), (None, None, None));
        assert_eq!(HeadForm::of(&head).head().unwrap(), head);
        assert!(!HeadForm::of(&head).0.contains_key("link.lengthening"));
    }

    #[test]
    fn every_needed_field_is_asked_for_at_once() {
        let faults = HeadForm::default().head().unwrap_err();
        let blank: Vec<&str> = faults.iter().map(|(key, _)| key.as_str()).collect();
        let needed: Vec<&str> = fields().iter().filter(|field| field.needed).map(|field| field.key).collect();
        assert_eq!(blank, needed);
        assert!(faults.iter().all(|(_, fault)| *fault == FieldFault::Blank));
    }

    #[test]
    fn each_field_is_held_against_the_descriptions_own_rules() {
        for (key, text) in [
            ("blades", "9"),
            ("link.pitch_arm_mm", "0"),
            ("link.thread", "M7"),
            ("rotation", "left"),
            ("station_error_deg", "-1"),
            ("targets.cyclic", "12"),
            ("swash.horn_mm", "0"),
        ] {
            let faults = with(key, text).unwrap_err();
            assert!(
                faults.iter().any(|(at, fault)| at == key && matches!(fault, FieldFault::Refused { .. })),
                "{key}: {faults:?}"
            );
        }
        assert_eq!(
            with("link.pitch_arm_mm", "about 20").unwrap_err(),
            [("link.pitch_arm_mm".into(), FieldFault::NoNumber)]
        );
        assert_eq!(with("weight", "3").unwrap_err(), [("weight".into(), FieldFault::Unknown)]);
        // A comma is a point where people write one.
        assert_eq!(with("link.pitch_arm_mm", "20,5").unwrap().link.pitch_arm().value(), 20.5);
    }

    #[test]
    fn a_plate_is_described_whole_or_not_at_all() {
        let faults = with("swash.horn_mm", "15").unwrap_err();
        assert_eq!(faults.len(), 3, "{faults:?}");
        assert!(faults.iter().all(|(key, fault)| PLATE.contains(&key.as_str()) && *fault == FieldFault::PlateNeedsIt));
    }

    #[test]
    fn every_field_of_a_description_has_its_place_in_the_form() {
        let text: String = Head::template("x")
            .lines()
            .map(|line| match line.strip_prefix("# ") {
                Some(field) if field.contains(" = ") => format!("{field}\n"),
                _ => format!("{line}\n"),
            })
            .collect();
        let head = Head::from_toml(&text).unwrap();
        let form = HeadForm::of(&head);
        let known = fields();
        for key in form.0.keys() {
            assert!(known.iter().any(|field| field.key == key), "{key}");
        }
        assert_eq!(form.head().unwrap(), head);
    }
}
