import "./trial.css";

// The pages of a trial: plan it, record it, read its verdict.
export { PlanPage } from "./plan";
export { TrialPage } from "./trial";
