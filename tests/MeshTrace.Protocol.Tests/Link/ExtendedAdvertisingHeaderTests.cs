using CsCheck;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Protocol.Tests.Link;

public sealed class ExtendedAdvertisingHeaderTests
{
    // Octets by hand from volume 6 part B §2.3.4: header length 9, connectable; flags ADI and AuxPtr and TxPower; ADI 5123 (DID 0x123, SID
    // 5);
    // AuxPtr: channel 9, units 300 us, offset 2, LE 2M; -4 dBm; ACAD none; AdvData aabb.
    [Fact]
    public void Fields_StandInTheirOrder()
    {
        byte[] payload = Convert.FromHexString("47" + "58" + "2351" + "890220" + "fc" + "aabb");
        Assert.True(ExtendedAdvertisingHeader.TryRead(payload, out ExtendedAdvertisingHeader header, out DecodeProblem problem), problem.ToString());
        Assert.Equal((1, false, false), (header.AdvMode, header.HasAdvA, header.HasTargetA));
        Assert.Equal((0x123, 5), (header.Did, header.Sid));
        Assert.Equal((9, 600, 1), (header.AuxChannelIndex, header.AuxOffsetUs, header.AuxPhy));
        Assert.Equal(-4, header.TxPowerDbm);
        Assert.True(header.Acad.IsEmpty && header.SyncInfo.IsEmpty);
        Assert.Equal("aabb", Convert.ToHexStringLower(header.AdvData));
    }

    [Fact]
    public void EmptyHeader_HasOnlyData()
    {
        Assert.True(ExtendedAdvertisingHeader.TryRead([0x80, 0xAA], out ExtendedAdvertisingHeader header, out _));
        Assert.Equal(2, header.AdvMode);
        Assert.Null(header.Did);
        Assert.Null(header.AuxOffsetUs);
        Assert.True(header.Acad.IsEmpty);
        Assert.Equal([0xAA], header.AdvData.ToArray());
    }

    [Theory]
    [InlineData("", ProblemKind.TooShort, "empty")]
    [InlineData("02", ProblemKind.TooShort, "header longer than the payload")]
    [InlineData("0701010203040506", ProblemKind.None, "AdvA just fits")]
    [InlineData("06010102030405", ProblemKind.WrongValue, "AdvA does not fit")]
    [InlineData("01ff", ProblemKind.WrongValue, "no field fits")]
    public void BadBytes_AreNamedNotThrown(string hex, ProblemKind kind, string why)
    {
        ExtendedAdvertisingHeader.TryRead(Convert.FromHexString(hex), out _, out DecodeProblem problem);
        Assert.True(problem.Kind == kind, why);
    }

    [Fact]
    public void WriteThenRead_IsTheSame() =>
        Gen.Select(Gen.Int[0, 127], Gen.ULong[0, (1UL << 48) - 1], Gen.Int[0, 0xFFFFFF], Gen.SByte, Gen.Byte.Array[0, 24], Gen.Byte.Array[0, 100], Gen.Byte.Array[18])
            .Sample((present, address, number, power, acad, advData, syncInfo) =>
            {
                bool Has(int bit) => (present >> bit & 1) != 0;
                byte[] octets = Frames.Filled(300);
                int length = ExtendedAdvertisingHeader.Write(
                    octets, 2, Has(0) ? address : null, Has(1) ? address ^ 1 : null, Has(2) ? (byte)(number & 0xFF) : null,
                    Has(3) ? (ushort)(number & 0xFFFF) : null, Has(4) ? number : null, Has(5) ? syncInfo : default, Has(6) ? power : null, acad, advData);
                Assert.True(
                    ExtendedAdvertisingHeader.TryRead(octets.AsSpan(0, length), out ExtendedAdvertisingHeader header, out DecodeProblem problem),
                    problem.ToString());
                Assert.Equal((2, Has(0), Has(1)), (header.AdvMode, header.HasAdvA, header.HasTargetA));
                Assert.Equal((Has(0) ? address : 0, Has(1) ? address ^ 1 : 0), (header.AdvA, header.TargetA));
                Assert.Equal(Has(2) ? (byte)(number & 0xFF) : null, header.CteInfo);
                Assert.Equal((Has(3) ? number & 0xFFF : null, Has(3) ? number >> 12 & 0xF : null), (header.Did, header.Sid));
                Assert.Equal(Has(4) ? number : null, header.AuxPtr);
                Assert.Equal(Has(5) ? syncInfo : [], header.SyncInfo.ToArray());
                Assert.Equal(Has(6) ? power : null, header.TxPowerDbm);
                Assert.Equal(acad, header.Acad.ToArray());
                Assert.Equal(advData, header.AdvData.ToArray());
            });

    [Fact]
    public void RandomOctets_NeverThrow() => Gen.Byte.Array[0, 80].Sample(octets =>
    {
        if (!ExtendedAdvertisingHeader.TryRead(octets, out ExtendedAdvertisingHeader header, out _))
            return;
        _ = (header.AdvA, header.TargetA, header.CteInfo, header.Did, header.Sid, header.AuxOffsetUs, header.AuxPhy, header.TxPowerDbm);
        Assert.True(header.SyncInfo.Length + header.Acad.Length + header.AdvData.Length <= octets.Length);
    });
}
