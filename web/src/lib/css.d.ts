// Style sheets are bundled by web/build; TypeScript only needs to know that they exist.
declare module "*.css";

// The file that reads HEIC, where the built pages have it (web/build/heif.go).
declare module "heif.wasm.gz" {
  const address: string;
  export default address;
}
