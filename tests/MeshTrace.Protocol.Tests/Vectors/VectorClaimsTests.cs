using MeshTrace.Protocol.Tests.Beacons;
using MeshTrace.Protocol.Tests.Proxy;
using MeshTrace.Protocol.Tests.Security;
using Xunit.Abstractions;

namespace MeshTrace.Protocol.Tests.Vectors;

/// <summary>
/// Each worked example is claimed by exactly one owner: its kind stands in the list of one test class, whose theories take all vectors of that kind.
/// So no vector of the files can be left out, and a new kind in a file fails here until somebody claims it.
/// </summary>
public class VectorClaimsTests(ITestOutputHelper output)
{
    private static readonly (string Owner, string[] Kinds)[] SampleData =
    [
        (nameof(MessageVectorTests), MessageVectorTests.Kinds),
        (nameof(KeyDerivationVectorTests), KeyDerivationVectorTests.Kinds),
        (nameof(BeaconVectorTests), BeaconVectorTests.Kinds),
        (nameof(ProxyVectorTests), ProxyVectorTests.Kinds),
        (nameof(ProvisioningSecurityTests), ProvisioningSecurityTests.Kinds),
        ("the tests of PB-ADV (Bearer, Provisioning)", ["pb_adv_bearer_control", "pb_adv_transaction", "pb_adv_transaction_ack"]),
        ("the tests of the access catalogue (Access)", ["composition_data_page_0", "composition_data_page_1", "models_metadata_page_0"]),
    ];

    private static readonly (string Owner, string[] Kinds)[] Cryptography =
        [(nameof(CryptographyVectorTests), CryptographyVectorTests.Kinds)];

    [Fact]
    public void EachSampleOfTheStandardIsClaimedOnce() => Check(VectorFile.SampleData, SampleData, expected: 182);

    [Fact]
    public void EachCryptographicVectorIsClaimedOnce() => Check(VectorFile.Cryptography, Cryptography, expected: 26);

    private void Check(VectorFile file, (string Owner, string[] Kinds)[] claims, int expected)
    {
        Assert.Equal(expected, file.All.Count);
        foreach (Vector vector in file.All)
            Assert.True(claims.Count(c => c.Kinds.Contains(vector.Kind)) == 1, $"{vector.Id}: kind {vector.Kind} must have exactly one owner");
        foreach ((string owner, string[] kinds) in claims)
        {
            int count = file.All.Count(v => kinds.Contains(v.Kind));
            Assert.All(kinds, kind => Assert.Contains(file.All, v => v.Kind == kind));
            output.WriteLine($"{count,4} worked examples: {owner}");
        }
    }
}
