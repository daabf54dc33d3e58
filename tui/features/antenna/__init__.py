"""The antenna: `antenna`, and the page where antennas are measured and tried."""
