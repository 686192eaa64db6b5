"""Keep the register: create, edit, retire, import."""
