export { SettingsPage } from "./page";
