using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.UpperTransport.Control;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Words;

public class PayloadChecksTests
{
    /// <summary>What is remembered is what reading says: payloads of all lengths up to beyond those remembered, more than are remembered, each asked for twice.</summary>
    [Fact]
    public void Answers_AreThoseOfReading()
    {
        var checks = new PayloadChecks(null);
        var random = new Random(3);
        for (int round = 0; round < 6_000; round++)
        {
            byte[] payload = new byte[random.Next(20)];
            random.NextBytes(payload);
            if (payload.Length > 1 && round % 2 == 0)
                (payload[0], payload[1]) = (0x82, (byte)(round % 10));      // Generic OnOff, Level and their neighbours, of lengths that fit and that do not
            for (int asked = 0; asked < 2; asked++)
            {
                DecodedMessage read = AccessReader.Read(payload);
                _ = Opcode.TryRead(payload, out Opcode opcode, out _);
                Assert.Equal((read.Problem, read.Definition is not null || read.Problem.IsProblem), checks.Of(isControl: false, opcode, payload));
            }
        }
    }

    /// <summary>Octets alone do not tell: the same ones under another opcode, as control message, or with a zero more are others.</summary>
    [Fact]
    public void SameOctets_UnderAnotherOpcodeOrLength_AreReadAnew()
    {
        var checks = new PayloadChecks(null);
        byte[] octets = [0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00];
        foreach (byte opcode in new byte[] { 0x00, 0x0A, 0x01, 0x3F, 0x00 })
            for (int length = 0; length <= octets.Length; length++)
            {
                DecodedControl read = ControlReader.Read(opcode, octets.AsSpan(0, length));
                Assert.Equal((read.Problem, read.Definition is not null), checks.Of(isControl: true, new Opcode(opcode), octets.AsSpan(0, length)));
                DecodedMessage message = AccessReader.Read(octets.AsSpan(0, length));
                Assert.Equal(message.Problem, checks.Of(isControl: false, new Opcode(opcode), octets.AsSpan(0, length)).Problem);
            }
    }
}
