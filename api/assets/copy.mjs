// Copies the address of a calendar. Without script the box is selected and copied by hand.
const box = document.getElementById("address");
const button = document.getElementById("copy");
const said = document.getElementById("copied");

button.hidden = !navigator.clipboard;
button.addEventListener("click", async () => {
  try {
    await navigator.clipboard.writeText(box.value);
    said.textContent = "Copied.";
  } catch {
    box.select();
    said.textContent = "Press Ctrl+C or Copy: the address is selected.";
  }
});
