// A bow fitted to its readings: what they taught, what to measure next, what a
// change does on this bow, and routes to a wish.
export { FitPage } from "./page";
