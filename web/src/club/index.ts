export { AccountPage } from "./account";
export { LoginPage } from "./login";
export { JoinPage, RecoverPage } from "./join";
export { LogPage } from "./log";
export { WeekPage } from "./week";
export { PeoplePage } from "./people";
