//! What is changed in the record besides captures: what was turned, and what is left out.

use super::Refusal;
use super::run::Run;
use crate::record::{Adjustment, CellName, plan};
use crate::{DeedError, adjust, leave_out};

/// One change.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Something was turned.
    Turned {
        /// What.
        what: Vec<Adjustment>,
        /// A remark.
        note: Option<String>,
    },
    /// A cell is left out on purpose.
    LeaveOut {
        /// Which.
        cell: CellName,
        /// Why.
        because: String,
    },
}

impl Run {
    /// Changes the record, and leads to what is to be read again.
    pub(super) async fn change(&mut self, change: Change) -> Result<(), Refusal> {
        if self.open.setup().closed_at.is_some() {
            return Err(crate::guide::Refusal::Closed.into());
        }
        // Another terminal may have recorded something since.
        self.open = self.open.clone().caught_up().await;
        let turned = matches!(change, Change::Turned { .. });
        match change {
            Change::Turned { what, note } => {
                let head = &self.open.setup().head;
                what.iter().try_for_each(|adjustment| adjustment.possible_on(head)).map_err(DeedError::from)?;
                for adjustment in what {
                    adjust(&mut self.open, adjustment, note.clone()).await?;
                }
            }
            Change::LeaveOut { cell, because } => leave_out(&mut self.open, cell, &because).await?,
        }
        let plan = plan::plan(&self.open.setup().head, self.open.entries());
        let effects = self.guide.changed(&plan, turned);
        self.carry_out(effects, None).await;
        self.publish();
        Ok(())
    }
}
