"""Changing tables and their triggers while another machine may be serving from them."""
