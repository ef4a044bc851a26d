//! The pictures that the captures at hand allow.

use super::sheet::Picture;
use crate::bench::OpenSetup;
use crate::record::{CollectiveSurvey, RotorSurvey};
use crate::report::pictures;
use std::collections::BTreeMap;

/// Fewer readings round the turn make no picture.
const FEWEST_READINGS: usize = 3;

/// What can be drawn of a setup, as SVG.
#[derive(Debug, Clone, Default)]
pub(super) struct Gallery {
    drawn: BTreeMap<&'static str, (&'static str, String)>,
    version: u64,
}

impl Gallery {
    /// Draws anew what the captures allow now.
    pub fn draw(&mut self, open: &OpenSetup) {
        let (head, entries) = (&open.setup().head, open.entries());
        let mut drawn = BTreeMap::new();
        if let Some(survey) = RotorSurvey::new(head, entries, None).ok().filter(|s| s.readings.len() >= FEWEST_READINGS)
        {
            let plot = pictures::azimuth(&survey.readings, &survey.solution, |blade| blade.to_string());
            drawn.insert("azimuth", ("Pitch round the turn, sticks centred", plot.svg()));
        }
        if let Ok(survey) = CollectiveSurvey::new(head, entries, None) {
            drawn.insert("collective", ("Pitch against collective stick", pictures::collective(&survey, head).svg()));
        }
        self.version += 1;
        self.drawn = drawn;
    }

    /// What there is.
    pub fn list(&self) -> Vec<Picture> {
        let picture = |(name, (title, _)): (&&str, &(&str, String))| Picture {
            name: (*name).to_owned(),
            title: (*title).to_owned(),
            version: self.version,
        };
        self.drawn.iter().map(picture).collect()
    }

    /// One of them.
    pub fn svg(&self, name: &str) -> Option<String> {
        self.drawn.get(name).map(|(_, svg)| svg.clone())
    }
}
