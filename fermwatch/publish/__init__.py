"""What other programs are told of the site: numbers for whoever keeps and draws them."""
