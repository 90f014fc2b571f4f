// Runs before the first paint, so that a dark page never flashes white.
try {
  const theme = localStorage.getItem("stationer-theme");
  if (theme === "light" || theme === "dark") document.documentElement.dataset.theme = theme;
} catch {
  // A browser that keeps nothing follows the system.
}
