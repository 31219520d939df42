"""Papers to customers and suppliers: enquiry, quotation, purchase order."""
