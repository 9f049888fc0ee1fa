using CsCheck;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Protocol.Tests.Access;

/// <summary>Any octets as the payload of any opcode: nothing throws or reads past the end, and what is read without a problem is written back.</summary>
public class HostileOctetsTests
{
    private const int LongestPayload = 380;     // Mesh Protocol 1.1 §3.5.2: largest access message less a 32-bit TransMIC

    // Small values and all-ones make list counts, formats and flags plausible more often than even octets do.
    private static readonly Gen<byte> Octet = Gen.OneOf(Gen.Byte, Gen.Byte[0, 3], Gen.Const((byte)0xFF));
    private static readonly Gen<byte[]> Octets = Gen.OneOf(Octet.Array[0, 24], Octet.Array[0, LongestPayload]);

    [Fact]
    public void RoundTrip_AnyOctetsOfAnyOpcode() =>
        Gen.Select(Gen.Int[0, AccessCatalogue.All.Count - 1], Octets)
            .Sample((row, parameters) => CheckAccess(AccessCatalogue.All[row], parameters), iter: 30_000);

    [Fact]
    public void RoundTrip_EveryOpcodeWithEveryShortLength()
    {
        foreach (MessageDefinition definition in AccessCatalogue.All)
        {
            foreach (byte fill in (ReadOnlySpan<byte>)[0x00, 0x01, 0x02, 0x7F, 0x80, 0xA5, 0xFF])
            {
                for (int length = 0; length <= 48; length++)
                {
                    byte[] parameters = new byte[length];
                    parameters.AsSpan().Fill(fill);
                    CheckAccess(definition, parameters);
                }
            }
        }
    }

    [Fact]
    public void AnyOctetsAtAll() => Octets.Sample(payload =>
    {
        DecodedMessage message = AccessReader.Read(payload);
        if (!message.Problem.IsProblem)
            Assert.Equal(payload, AccessWriter.Write(message));
        AccessReader.TryReadNumber(payload, "TID", out _);
    }, iter: 10_000);

    [Fact]
    public void RoundTrip_AnyOctetsOfAnyControlOpcode() => Gen.Select(Gen.Byte[0, 0x7F], Octets).Sample((opcode, parameters) =>
    {
        DecodedControl message = ControlReader.Read(opcode, parameters);
        Touch(message.Fields);
        if (!message.Problem.IsProblem)
            Assert.Equal(parameters, ControlWriter.Write(message));
    }, iter: 20_000);

    private static void CheckAccess(MessageDefinition definition, byte[] parameters)
    {
        byte[] payload = [.. AccessWriter.Write(new DecodedMessage(null, definition.Opcode, [])), .. parameters];
        DecodedMessage message = AccessReader.Read(payload);
        Touch(message.Fields);
        if (message.Problem.IsProblem)
        {
            Assert.InRange(message.Problem.Offset, 0, payload.Length);
            return;
        }
        byte[] written = AccessWriter.Write(message);
        Assert.True(payload.AsSpan().SequenceEqual(written), $"{definition}: {Convert.ToHexString(payload)} became {Convert.ToHexString(written)}");
        Assert.Equal(message.Fields, AccessReader.Read(written).Fields);
    }

    private static void Touch(IReadOnlyList<DecodedField> fields)
    {
        foreach (DecodedField field in fields)
        {
            _ = field.Reads;
            Touch(field.Children);
        }
    }
}
