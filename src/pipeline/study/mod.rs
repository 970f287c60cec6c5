//! Studies: claims judged from archives, with their charts, report and ledger lines; and what is
//! planned before the first dough.

mod evidence;
mod figures;
