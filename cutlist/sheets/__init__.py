"""What people read: cut sheet, order list, page, drawings. Nothing is calculated here."""
