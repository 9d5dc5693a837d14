"""Which preset lies on which switch."""
