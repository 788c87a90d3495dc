export { BenchPage } from "./page";
