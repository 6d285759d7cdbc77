import { jars } from "./jvm-broker.ts";

// Prints the folder with the test broker's jars, for whoever builds an image of them.
console.log(await jars());
