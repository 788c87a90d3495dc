// Style sheets are bundled by web/build; TypeScript only needs to know that they exist.
declare module "*.css";
