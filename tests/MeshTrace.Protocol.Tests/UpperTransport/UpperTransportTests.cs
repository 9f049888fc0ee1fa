using CsCheck;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Vectors;
using Upper = MeshTrace.Protocol.UpperTransport.UpperTransport;

namespace MeshTrace.Protocol.Tests.UpperTransport;

public class UpperTransportTests
{
    [Fact]
    public void RoundTrip_OfAnyPayload() =>
        Gen.Select(Gen.Byte.Array[16], Gen.Byte.Array[1, 376], Gen.Bool, Gen.Bool, Gen.UInt[0, 0xFFFFFF], Gen.Select(Gen.UShort, Gen.UShort), Gen.UInt, Gen.Byte.Array[16])
            .Sample((octets, payload, deviceKey, szMic, seq, addresses, ivIndex, label) =>
            {
                AesKey key = new(octets);
                MeshAddress src = new(addresses.Item1), dst = new(addresses.Item2);
                ReadOnlySpan<byte> used = dst.IsVirtual ? label : [];
                byte[] pdu = new byte[Upper.LongestAccessPdu], opened = new byte[Upper.LongestAccessPdu];
                int length = Upper.Encrypt(payload, key, deviceKey, szMic, seq, src, dst, ivIndex, used, pdu);
                Assert.Equal(payload.Length + (szMic ? 8 : 4), length);
                Assert.True(Upper.TryDecrypt(pdu.AsSpan(0, length), key, deviceKey, szMic, seq, src, dst, ivIndex, used, opened, out int plain));
                Assert.Equal(payload, opened[..plain]);

                // Each thing that the nonce holds matters.
                Assert.False(Upper.TryDecrypt(pdu.AsSpan(0, length), key, !deviceKey, szMic, seq, src, dst, ivIndex, used, opened, out _));
                Assert.False(Upper.TryDecrypt(pdu.AsSpan(0, length), key, deviceKey, szMic, seq ^ 1, src, dst, ivIndex, used, opened, out _));
                Assert.False(Upper.TryDecrypt(pdu.AsSpan(0, length), key, deviceKey, szMic, seq, dst, new MeshAddress((ushort)(src.Value ^ 1)), ivIndex, used, opened, out _));
                Assert.False(Upper.TryDecrypt(pdu.AsSpan(0, length), key, deviceKey, szMic, seq, src, dst, ivIndex ^ 1, used, opened, out _));
                Assert.False(Upper.TryDecrypt(pdu.AsSpan(0, length - 1), key, deviceKey, szMic, seq, src, dst, ivIndex, used, opened, out _));
            }, iter: 500);

    [Fact]
    public void OtherLabel_IsRefused()
    {
        Vector vector = VectorFile.SampleData["8.3.22"];
        MessageVectorTests.Given given = new(vector);
        byte[] pdu = vector.Out("upper_transport_pdu"), payload = new byte[pdu.Length];
        AesKey key = new(given.Key);
        Assert.True(Open(given.Label));
        Assert.False(Open([.. given.Label[..15], (byte)(given.Label[15] ^ 1)]));
        Assert.False(Open([]));
        bool Open(byte[] label) =>
            Upper.TryDecrypt(pdu, key, deviceKey: false, given.SzMic, given.Seq, given.Src, given.Dst, given.IvIndex, label, payload, out _);
    }

    [Fact]
    public void BadBytes_AnyLength_IsRefusedAndZeroed() => Gen.Select(Gen.Byte.Array[0, 500], Gen.Bool).Sample((octets, szMic) =>
    {
        byte[] payload = [.. Enumerable.Repeat((byte)0xA5, 500)];
        Assert.False(Upper.TryDecrypt(octets, new AesKey(new byte[16]), false, szMic, 1, new MeshAddress(1), new MeshAddress(2), 3, [], payload, out int length));
        Assert.Equal(0, length);
        Assert.All(payload[..Math.Max(0, octets.Length - (szMic ? 8 : 4))], octet => Assert.Equal(0, octet));
    }, iter: 500);

    // Mesh Protocol 1.1 §3.6.2: 380 octets of payload with a 32-bit TransMIC, 376 with one of 64 bits.
    [Theory]
    [InlineData(0, false, false)]
    [InlineData(380, false, true)]
    [InlineData(381, false, false)]
    [InlineData(376, true, true)]
    [InlineData(377, true, false)]
    public void PayloadLength_HasItsLimits(int octets, bool szMic, bool fits)
    {
        Exception? thrown = Record.Exception(() => Upper.Encrypt(new byte[octets], new AesKey(new byte[16]), true, szMic, 1, new MeshAddress(1),
            new MeshAddress(2), 3, [], new byte[400]));
        Assert.Equal(fits ? null : typeof(ArgumentException), thrown?.GetType());
    }
}
