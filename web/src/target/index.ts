// From the string to the target: what a change does to the holes.
export { TargetPage } from "./page";
