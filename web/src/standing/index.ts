// Does the old result still count, did the forecasts come true, does the bow
// hold, and how does it compare.
export { BesidePage } from "./beside";
export { ExplainPage } from "./explain";
export { LedgerPage } from "./ledger";
export { StandingPage } from "./page";
export { UpkeepPage } from "./upkeep";
