using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Tests.Radio;

public class AirTimeTests
{
    // Arithmetic from the packet layout (Core Specification, volume 6 part B §2.1): preamble 1, access address 4, header 2, AdvA 6,
    // AdvData, CRC 3; 8 µs an octet.
    [Theory]
    [InlineData(31, 376, "full segment")]
    [InlineData(24, 320, "Generic OnOff Set without transition")]
    [InlineData(26, 336, "Generic OnOff Set with transition, block acknowledgment")]
    [InlineData(23, 312, "Generic OnOff Status")]
    public void OfAdvertising_IsEightMicrosecondsAnOctet(int advDataOctets, int us, string content) =>
        Assert.True(AirTime.OfAdvertising(advDataOctets) == us, content);
}
