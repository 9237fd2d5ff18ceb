// What every field page starts with.
import { boxes } from "./boxes.mjs";

const form = document.querySelector("#post");
if (form) boxes(form);
