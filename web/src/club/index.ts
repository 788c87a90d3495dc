export { AccountPage } from "./account";
export { LoginPage } from "./login";
export { JoinPage, RecoverPage } from "./join";
export { LogPage } from "./log";
export { PeoplePage } from "./people";
