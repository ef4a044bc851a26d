//! Stands where the shared logbook would, in a program that was built without it: there is no such store and no address.

use super::Site;
use super::query::{Query, Row};
use crate::LogbookError;
use std::fmt;

/// No server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Address {}

impl fmt::Display for Address {
    fn fmt(&self, _: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {}
    }
}

/// No address: the error says how to get a program that knows shared logbooks.
pub(crate) const fn address(_: &str) -> Result<String, LogbookError> {
    Err(LogbookError::SharedNotBuilt)
}

/// No store.
#[derive(Debug, Clone)]
pub(crate) enum SharedStore {}

impl SharedStore {
    pub async fn open(_: &str) -> Result<Self, LogbookError> {
        Err(LogbookError::SharedNotBuilt)
    }

    pub fn site(&self) -> Site {
        match *self {}
    }

    pub async fn row<T: Row>(&self, _: Query) -> Result<Option<T>, sqlx::Error> {
        match *self {}
    }

    pub async fn rows<T: Row>(&self, _: Query) -> Result<Vec<T>, sqlx::Error> {
        match *self {}
    }

    pub async fn begin(&self) -> Result<SharedWrite, LogbookError> {
        match *self {}
    }

    pub async fn close(&self) {
        match *self {}
    }
}

/// No write.
pub(crate) enum SharedWrite {}

impl SharedWrite {
    pub async fn execute(&mut self, _: Query) -> Result<u64, sqlx::Error> {
        match *self {}
    }

    pub async fn row<T: Row>(&mut self, _: Query) -> Result<Option<T>, sqlx::Error> {
        match *self {}
    }

    pub async fn rows<T: Row>(&mut self, _: Query) -> Result<Vec<T>, sqlx::Error> {
        match *self {}
    }

    pub async fn commit(self) -> Result<(), sqlx::Error> {
        match self {}
    }
}
