//! Claims.
