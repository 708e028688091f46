/* A button with data-print opens the browser's print dialogue. */
document.addEventListener("click", function (event) {
  if (event.target.closest("[data-print]")) {
    window.print();
  }
});
