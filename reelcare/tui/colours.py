"""The colours of the two themes, as texts: for the theme of the app, and for the first frame before the app is there.

The rules of this file: every colour that text is written in stands off every ground by 4.5 to 1 or more.
"""

from __future__ import annotations

# Night over a field: wet earth, stubble, leaf, ripe grain, brick; water for what can be acted on.
DARK: dict[str, str] = {
    "primary": "#86b8b1",
    "secondary": "#b3a67c",
    "accent": "#ecd58a",
    "warning": "#e3b458",
    "error": "#ea8a72",
    "success": "#9cc274",
    "foreground": "#e4dfce",
    "background": "#171b17",
    "surface": "#1e241e",
    "panel": "#29312a",
}
DARK_MORE: dict[str, str] = {
    "text-primary": "#86b8b1",
    "text-secondary": "#b3a67c",
    "text-accent": "#ecd58a",
    "text-warning": "#e3b458",
    "text-error": "#ea8a72",
    "text-success": "#9cc274",
    "text-muted": "#a3a593",
    "block-cursor-background": "#36564f",
    "block-cursor-foreground": "#f4f0e0",
    "block-cursor-blurred-background": "#29312a",
    "border": "#86b8b1",
    "border-blurred": "#454f46",
    "scrollbar": "#454f46",
    "scrollbar-hover": "#5a665b",
    "scrollbar-background": "#1e241e",
    "footer-background": "#29312a",
    "footer-key-foreground": "#ecd58a",
    "input-cursor-background": "#ecd58a",
    "input-cursor-foreground": "#171b17",
    "input-selection-background": "#36564f",
    "button-color-foreground": "#171b17",
}
# The same field at midday, on paper.
LIGHT: dict[str, str] = {
    "primary": "#1f5a55",
    "secondary": "#63561f",
    "accent": "#7a3d00",
    "warning": "#7a4c00",
    "error": "#98281a",
    "success": "#2f5c1a",
    "foreground": "#23261b",
    "background": "#f5f1e4",
    "surface": "#ece7d6",
    "panel": "#e1dac4",
}
LIGHT_MORE: dict[str, str] = {
    "text-primary": "#1f5a55",
    "text-secondary": "#63561f",
    "text-accent": "#7a3d00",
    "text-warning": "#7a4c00",
    "text-error": "#98281a",
    "text-success": "#2f5c1a",
    "text-muted": "#56574a",
    "block-cursor-background": "#bcd6cd",
    "block-cursor-foreground": "#14170f",
    "block-cursor-blurred-background": "#e1dac4",
    "border": "#1f5a55",
    "border-blurred": "#b9b29a",
    "scrollbar": "#b9b29a",
    "scrollbar-hover": "#9d967d",
    "scrollbar-background": "#ece7d6",
    "footer-background": "#e1dac4",
    "footer-key-foreground": "#7a3d00",
    "input-cursor-background": "#7a3d00",
    "input-cursor-foreground": "#f5f1e4",
    "input-selection-background": "#bcd6cd",
    "button-color-foreground": "#f5f1e4",
}
"""The names that widgets use beside those of a theme."""
