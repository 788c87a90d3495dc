// The manual's pages, as web/build/manual.go brings them.
declare module "manual:contents" { const pages: import("./pages").Page[]; export default pages; }
declare module "manual:manual" { const pages: import("./pages").Page[]; export default pages; }
declare module "manual:why" { const pages: import("./pages").Page[]; export default pages; }
declare module "manual:programs" { const pages: import("./pages").Page[]; export default pages; }
