// Dragging a visit's card opens the form that its link "Move to…" opens, with day and crew filled in.

let dragged = null;

function place(event) {
  return event.target.closest("[data-drop]");
}

function clear() {
  document.querySelectorAll(".is-dropping").forEach((one) => one.classList.remove("is-dropping"));
}

document.addEventListener("dragstart", (event) => {
  const card = event.target.closest?.("[data-move]");
  if (card) {
    dragged = card.dataset.move;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", dragged);
  }
});
document.addEventListener("dragover", (event) => {
  const over = place(event);
  if (dragged && over) {
    event.preventDefault();
    clear();
    over.classList.add("is-dropping");
  }
});
document.addEventListener("drop", (event) => {
  const over = place(event);
  if (dragged && over) {
    event.preventDefault();
    window.location.assign(`${dragged}?${over.dataset.drop}`);
  }
});
document.addEventListener("dragend", () => {
  dragged = null;
  clear();
});
