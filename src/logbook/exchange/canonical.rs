//! One text for one JSON value, whoever has written it and however: RFC 8785, the JSON Canonicalization Scheme
//! (<https://www.rfc-editor.org/rfc/rfc8785>). No blanks, fields in order, numbers as ECMAScript writes a double.

use serde_json::Value;

/// The one text of a value.
pub(super) fn canonical(value: &Value) -> String {
    match value {
        // Read as doubles, as the scheme has it; the largest whole numbers lose their last digits in it.
        Value::Number(number) => number.as_f64().map_or_else(|| number.to_string(), digits),
        Value::Array(values) => format!("[{}]", values.iter().map(canonical).collect::<Vec<_>>().join(",")),
        // The map is in the order of its names already.
        Value::Object(fields) => {
            let field = |(name, value): (&String, &Value)| format!("{}:{}", quoted(name), canonical(value));
            format!("{{{}}}", fields.iter().map(field).collect::<Vec<_>>().join(","))
        }
        Value::String(text) => quoted(text),
        Value::Null | Value::Bool(_) => value.to_string(),
    }
}

fn quoted(text: &str) -> String {
    Value::from(text).to_string()
}

/// A number as ECMA-262 writes it (`Number::toString`): the fewest digits that are this double and no other, of two that
/// are as near the even one.
fn digits(number: f64) -> String {
    // The digits are those of any JSON; where the point and the exponent stand is ECMAScript's own.
    let text = Value::from(number.abs()).to_string();
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let all = format!("{whole}{fraction}");
    let leading = all.trim_start_matches('0');
    let digits = leading.trim_end_matches('0');
    if digits.is_empty() {
        return "0".to_owned();
    }
    let count = |text: &str| i32::try_from(text.len()).unwrap_or(i32::MAX);
    // The point stands after so many of the digits.
    let point = count(whole) + exponent.parse::<i32>().unwrap_or(0) - (count(&all) - count(leading));
    let zeros = |many: i32| "0".repeat(usize::try_from(many).unwrap_or(0));
    let split = |at: i32| digits.split_at(usize::try_from(at).unwrap_or(0));
    let sign = if number < 0.0 { "-" } else { "" };
    match point {
        _ if (count(digits)..=21).contains(&point) => format!("{sign}{digits}{}", zeros(point - count(digits))),
        1..=21 => {
            let (whole, fraction) = split(point);
            format!("{sign}{whole}.{fraction}")
        }
        -5..=0 => format!("{sign}0.{}{digits}", zeros(-point)),
        _ => {
            let (first, rest) = split(1);
            let dot = if rest.is_empty() { "" } else { "." };
            format!("{sign}{first}{dot}{rest}e{:+}", point - 1)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// Samples of RFC 8785, appendix B: a double's bits, and its text.
    #[test]
    fn numbers_are_written_as_the_standard_has_them() {
        for (bits, text) in [
            (0x0000_0000_0000_0000, "0"),
            (0x8000_0000_0000_0000, "0"),
            (0x0000_0000_0000_0001, "5e-324"),
            (0x8000_0000_0000_0001, "-5e-324"),
            (0x7fef_ffff_ffff_ffff, "1.7976931348623157e+308"),
            (0xffef_ffff_ffff_ffff, "-1.7976931348623157e+308"),
            (0x4340_0000_0000_0000, "9007199254740992"),
            (0xc340_0000_0000_0000, "-9007199254740992"),
            (0x4430_0000_0000_0000, "295147905179352830000"),
            (0x44b5_2d02_c7e1_4af5, "9.999999999999997e+22"),
            (0x44b5_2d02_c7e1_4af6, "1e+23"),
            (0x44b5_2d02_c7e1_4af7, "1.0000000000000001e+23"),
            (0x444b_1ae4_d6e2_ef4e, "999999999999999700000"),
            (0x444b_1ae4_d6e2_ef4f, "999999999999999900000"),
            (0x444b_1ae4_d6e2_ef50, "1e+21"),
            (0x3eb0_c6f7_a0b5_ed8c, "9.999999999999997e-7"),
            (0x3eb0_c6f7_a0b5_ed8d, "0.000001"),
            (0x41b3_de43_5555_5553, "333333333.3333332"),
            (0x41b3_de43_5555_5554, "333333333.33333325"),
            (0x41b3_de43_5555_5555, "333333333.3333333"),
            (0x41b3_de43_5555_5556, "333333333.3333334"),
            (0x41b3_de43_5555_5557, "333333333.33333343"),
            (0xbecb_f647_612f_3696, "-0.0000033333333333333333"),
            (0x4314_3ff3_c1cb_0959, "1424953923781206.2"),
        ] {
            assert_eq!(digits(f64::from_bits(bits)), text);
        }
    }

    /// The order of fields, blanks and the way in which a number is written are nobody's matter; what it is worth is.
    #[test]
    fn one_value_has_one_text() {
        let read = |text: &str| canonical(&serde_json::from_str(text).unwrap());
        let text = r#"{"a":[1,0.31,"é\n"],"b":null}"#;
        assert_eq!(read(text), text);
        assert_eq!(read("{ \"b\": null, \"a\": [1.0, 31e-2, \"\\u00e9\\u000A\"] }"), text);
        assert_ne!(canonical(&json!({ "angle": 0.31 })), canonical(&json!({ "angle": 3.31 })));
    }
}
