"""Who is told what, when? The mail is planned here, in one transaction with what it tells."""
