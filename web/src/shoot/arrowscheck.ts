import { readArrows } from "./arrows";

// What readArrows makes of rows as people write them, for the test in
// web/build.
const labels = ["X", "10", "9", "8", "7", "6", "5", "4", "3", "2", "1"];
const face = { name: "122 cm", zones: labels.map((label, i) => ({ label, radius_m: 0.06 * (i + 1), points: 10, colour: "gold" })) };

console.log(JSON.stringify({
  Rings: readArrows("9 8 x m 11:7", 6, 0, face, false),
  Places: readArrows("3/-2,5 −10.5/+4", 6, 0, face, false),
  Inch: readArrows("1/-2", 6, 0, face, true),
  Bare: readArrows("1/1 2/2 3/3 4/4 5/5 6/6", 6, 3, face, false),
  Few: readArrows("1/1 2/2", 6, 3, face, false),
  Wrong: readArrows("9 8 eleven", 6, 0, face, false),
  Far: readArrows("400/0", 6, 0, face, false),
}));
