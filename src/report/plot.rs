//! Plots as SVG: ink on paper, no script, no fonts of their own.
//!
//! Lines over two axes, each linear or logarithmic. The name of a line stands in the margin beside its end, so that no
//! letter lies on ink. Coordinates have two decimals. A point that an axis cannot show (no number, or not above zero on
//! a logarithmic axis) is left out.

use std::fmt::Write;

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 440.0;
const LEFT: f64 = 76.0;
const RIGHT: f64 = 150.0;
const TOP: f64 = 44.0;
const BOTTOM: f64 = 56.0;
/// Least distance of two names in the margin.
const LINE_HEIGHT: f64 = 15.0;

/// How an axis runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Evenly.
    Linear,
    /// By decades.
    Logarithmic,
}

/// An axis: what it shows, in which unit, and how it runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Quantity and unit, such as `averaging time, s`.
    pub label: String,
    /// How it runs.
    pub scale: Scale,
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// A full line.
    Solid,
    /// A broken line: theory, a fit, a limit.
    Dashed,
    /// Points alone: readings.
    Points,
}

/// Points that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its name, shown in the margin beside its last point.
    pub name: String,
    /// The points, in order.
    pub points: Vec<(f64, f64)>,
    /// How it is drawn.
    pub stroke: Stroke,
}

/// A plot.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot {
    /// What it shows.
    pub title: String,
    /// To the right.
    pub x: Axis,
    /// Upward.
    pub y: Axis,
    /// What is drawn.
    pub lines: Vec<Line>,
}

/// A picture that follows a browser into the dark; on paper and where nobody asks for it, it stays ink on paper.
#[must_use]
pub fn in_the_dark(svg: &str) -> String {
    const STYLE: &str = include_str!("dark.css");
    match svg.find("<title>") {
        Some(at) => format!("{}<style>{STYLE}</style>{}", &svg[..at], &svg[at..]),
        None => svg.to_owned(),
    }
}

impl Plot {
    /// The plot as an SVG document.
    #[must_use]
    pub fn svg(&self) -> String {
        let all = || self.lines.iter().flat_map(|line| line.points.iter().copied());
        let x = Ruler::new(&self.x, all().map(|point| point.0), LEFT, WIDTH - RIGHT);
        let y = Ruler::new(&self.y, all().map(|point| point.1), HEIGHT - BOTTOM, TOP);
        let mut svg = String::new();
        // Writing to a string cannot fail.
        let _ = self.write(&x, &y, &mut svg);
        svg
    }

    fn write(&self, x: &Ruler, y: &Ruler, out: &mut String) -> std::fmt::Result {
        writeln!(
            out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH:.0} {HEIGHT:.0}\" width=\"{WIDTH:.0}\" \
             height=\"{HEIGHT:.0}\" role=\"img\" font-family=\"Georgia, serif\" font-size=\"12\" fill=\"#1c1b19\">"
        )?;
        writeln!(out, "<title>{}</title>", escaped(&self.title))?;
        writeln!(out, "<rect width=\"{WIDTH:.0}\" height=\"{HEIGHT:.0}\" fill=\"#fbf9f4\"/>")?;
        text(out, LEFT, 24.0, "start", "font-size=\"15\"", &self.title)?;
        axes(out, x, y)?;
        text(out, (LEFT + WIDTH - RIGHT) / 2.0, HEIGHT - 14.0, "middle", "", &self.x.label)?;
        let (across, middle) = (18.0, (TOP + HEIGHT - BOTTOM) / 2.0);
        let turned = format!("transform=\"rotate(-90 {across:.2} {middle:.2})\"");
        text(out, across, middle, "middle", &turned, &self.y.label)?;
        let mut names = Vec::new();
        for line in &self.lines {
            let points = line.points.iter().filter_map(|&(px, py)| Some((x.place(px)?, y.place(py)?)));
            let points: Vec<(f64, f64)> = points.collect();
            drawn(out, &points, line.stroke)?;
            if let Some(&(_, height)) = points.last() {
                names.push((height, line.name.as_str()));
            }
        }
        for (height, name) in spread(names) {
            text(out, WIDTH - RIGHT + 10.0, height + 4.0, "start", "", name)?;
        }
        writeln!(out, "</svg>")
    }
}

fn drawn(out: &mut String, points: &[(f64, f64)], stroke: Stroke) -> std::fmt::Result {
    if stroke == Stroke::Points {
        for (x, y) in points {
            writeln!(out, "<circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"2.6\"/>")?;
        }
        return Ok(());
    }
    let places: Vec<String> = points.iter().map(|(x, y)| format!("{x:.2},{y:.2}")).collect();
    let (width, dash) = if stroke == Stroke::Dashed { (1.0, " stroke-dasharray=\"5 4\"") } else { (1.8, "") };
    writeln!(
        out,
        "<polyline points=\"{}\" fill=\"none\" stroke=\"#1c1b19\" stroke-width=\"{width}\"{dash}/>",
        places.join(" ")
    )
}

fn axes(out: &mut String, x: &Ruler, y: &Ruler) -> std::fmt::Result {
    let (bottom, right) = (HEIGHT - BOTTOM, WIDTH - RIGHT);
    for tick in x.ticks() {
        let Some(at) = x.place(tick.value) else { continue };
        rule(out, (at, bottom), (at, TOP), tick.named)?;
        if tick.named {
            text(out, at, bottom + 18.0, "middle", "", &number(tick.value))?;
        }
    }
    for tick in y.ticks() {
        let Some(at) = y.place(tick.value) else { continue };
        rule(out, (LEFT, at), (right, at), tick.named)?;
        if tick.named {
            text(out, LEFT - 8.0, at + 4.0, "end", "", &number(tick.value))?;
        }
    }
    writeln!(
        out,
        "<path d=\"M{LEFT:.2},{TOP:.2} V{bottom:.2} H{right:.2}\" fill=\"none\" stroke=\"#1c1b19\" stroke-width=\"1\"/>"
    )
}

/// A line of the grid.
fn rule(out: &mut String, from: (f64, f64), to: (f64, f64), strong: bool) -> std::fmt::Result {
    let colour = if strong { "#cfc9bb" } else { "#e9e4d8" };
    let ((x1, y1), (x2, y2)) = (from, to);
    writeln!(out, "<path d=\"M{x1:.2},{y1:.2} L{x2:.2},{y2:.2}\" stroke=\"{colour}\" stroke-width=\"0.8\"/>")
}

fn text(out: &mut String, x: f64, y: f64, anchor: &str, more: &str, words: &str) -> std::fmt::Result {
    let space = if more.is_empty() { "" } else { " " };
    writeln!(out, "<text x=\"{x:.2}\" y=\"{y:.2}\" text-anchor=\"{anchor}\"{space}{more}>{}</text>", escaped(words))
}

fn escaped(words: &str) -> String {
    words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// Moves names apart that would stand on each other, keeping their order and the margin.
fn spread(mut names: Vec<(f64, &str)>) -> Vec<(f64, &str)> {
    names.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut free = TOP;
    for (height, _) in &mut names {
        *height = height.max(free);
        free = *height + LINE_HEIGHT;
    }
    let mut free = HEIGHT - BOTTOM;
    for (height, _) in names.iter_mut().rev() {
        *height = height.min(free);
        free = *height - LINE_HEIGHT;
    }
    names
}

struct Tick {
    value: f64,
    named: bool,
}

/// From values to places on the paper.
struct Ruler {
    scale: Scale,
    /// Ends of the axis, as logarithms where it is logarithmic.
    low: f64,
    high: f64,
    from: f64,
    to: f64,
}

impl Ruler {
    fn new(axis: &Axis, values: impl Iterator<Item = f64>, from: f64, to: f64) -> Self {
        let shown = values.filter_map(|value| measure(axis.scale, value));
        let (low, high) =
            shown.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        let (low, high) = if low > high { (0.0, 1.0) } else { (low, high) };
        // A little air, and never an axis without length.
        let air = (0.04 * (high - low)).max(if high - low > 0.0 { 0.0 } else { 0.1 * high.abs().max(0.1) });
        Self { scale: axis.scale, low: low - air, high: high + air, from, to }
    }

    fn place(&self, value: f64) -> Option<f64> {
        let share = (measure(self.scale, value)? - self.low) / (self.high - self.low);
        Some(self.from + share * (self.to - self.from))
    }

    fn ticks(&self) -> Vec<Tick> {
        match self.scale {
            Scale::Linear => self.even_ticks(),
            Scale::Logarithmic => self.decade_ticks(),
        }
    }

    /// Steps of 1, 2 or 5 times a power of ten, about six of them.
    fn even_ticks(&self) -> Vec<Tick> {
        let wanted = (self.high - self.low) / 6.0;
        let decade = 10f64.powf(wanted.log10().floor());
        let factor = [1.0, 2.0, 5.0, 10.0].into_iter().find(|factor| factor * decade >= wanted).unwrap_or(10.0);
        let step = factor * decade;
        let (first, last) = ((self.low / step).ceil() as i64, (self.high / step).floor() as i64);
        (first..=last).map(|i| Tick { value: i as f64 * step, named: true }).collect()
    }

    /// All digits of each decade; the powers of ten are named, and twos and fives with them where there are few.
    fn decade_ticks(&self) -> Vec<Tick> {
        let decades = self.low.floor() as i32..=self.high.ceil() as i32;
        let few = self.high - self.low < 2.2;
        let all = decades.flat_map(|decade| (1..10).map(move |digit| (digit, f64::from(digit) * 10f64.powi(decade))));
        let inside = all.filter(|(_, value)| (self.low..=self.high).contains(&value.log10()));
        inside.map(|(digit, value)| Tick { value, named: digit == 1 || (few && matches!(digit, 2 | 5)) }).collect()
    }
}

fn measure(scale: Scale, value: f64) -> Option<f64> {
    let measured = match scale {
        Scale::Linear => value,
        Scale::Logarithmic if value > 0.0 => value.log10(),
        Scale::Logarithmic => return None,
    };
    measured.is_finite().then_some(measured)
}

/// Without the digits that rounding left.
fn number(value: f64) -> String {
    let rounded = format!("{value:.6}");
    let short = rounded.trim_end_matches('0').trim_end_matches('.');
    if short == "-0" || short.is_empty() { "0".to_owned() } else { short.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plot(points: Vec<(f64, f64)>, scale: Scale) -> Plot {
        let axis = |label: &str| Axis { label: label.to_owned(), scale };
        Plot {
            title: "a < b & c".to_owned(),
            x: axis("time, s"),
            y: axis("deviation, °"),
            lines: vec![
                Line { name: "measured".into(), points: points.clone(), stroke: Stroke::Solid },
                Line { name: "white noise".into(), points: points.clone(), stroke: Stroke::Dashed },
                Line { name: "readings".into(), points, stroke: Stroke::Points },
            ],
        }
    }

    /// The value of an attribute wherever it stands.
    fn attributes(svg: &str, name: &str) -> Vec<f64> {
        let key = format!(" {name}=\"");
        svg.split(&key).skip(1).filter_map(|rest| rest.split('"').next()?.parse().ok()).collect()
    }

    #[test]
    fn a_straight_line_on_logarithmic_paper_is_straight() {
        let svg = plot((0..5).map(|i| (10f64.powi(i), 10f64.powi(-i))).collect(), Scale::Logarithmic).svg();
        let (x, y) = (attributes(&svg, "cx"), attributes(&svg, "cy"));
        assert_eq!(x.len(), 5);
        for i in 1..4 {
            assert!((x[i + 1] - 2.0 * x[i] + x[i - 1]).abs() < 0.03, "{x:?}");
            assert!((y[i + 1] - 2.0 * y[i] + y[i - 1]).abs() < 0.03, "{y:?}");
        }
        assert!(y[0] < y[4], "a larger value stands higher");
        assert!(svg.contains(">100</text>") && svg.contains(">0.01</text>"));
    }

    #[test]
    fn names_stand_in_the_margin_and_not_on_each_other() {
        let svg = plot(vec![(1.0, 1.0), (2.0, 4.0)], Scale::Linear).svg();
        let heights: Vec<f64> = svg
            .lines()
            .filter(|line| [">measured<", ">white noise<", ">readings<"].iter().any(|name| line.contains(name)))
            .map(|line| {
                assert!(attributes(line, "x")[0] > WIDTH - RIGHT);
                attributes(line, "y")[0]
            })
            .collect();
        assert_eq!(heights.len(), 3);
        assert!(heights.windows(2).all(|pair| pair[1] - pair[0] >= LINE_HEIGHT - 0.01), "{heights:?}");
    }

    #[test]
    fn what_cannot_be_drawn_is_left_out_and_the_rest_stays_on_the_paper() {
        let odd = vec![(f64::NAN, 1.0), (0.0, 1.0), (-3.0, 2.0), (f64::INFINITY, 1.0), (5.0, 5.0)];
        for scale in [Scale::Linear, Scale::Logarithmic] {
            for points in [odd.clone(), Vec::new(), vec![(3.0, 3.0)]] {
                let svg = plot(points, scale).svg();
                assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
                assert!(attributes(&svg, "cx").iter().all(|x| (LEFT..=WIDTH - RIGHT).contains(x)));
                assert!(attributes(&svg, "cy").iter().all(|y| (TOP..=HEIGHT - BOTTOM).contains(y)));
            }
        }
    }

    #[test]
    fn words_are_words_and_never_markup() {
        let svg = plot(vec![(1.0, 1.0)], Scale::Linear).svg();
        assert!(svg.contains("a &lt; b &amp; c") && !svg.contains("a < b"));
    }
}
