"""The accuracy study: how near the told tree comes to the true one, beside two baselines."""
