"""Looking ahead: futures of the shop, what runs out, why, and which tickets it holds up."""
